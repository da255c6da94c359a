import { mkdirSync, mkdtempSync, rmSync } from "node:fs"
import { createServer } from "node:http"
import { isIPv4 } from "node:net"
import { tmpdir } from "node:os"
import { join, resolve } from "node:path"
import { fileURLToPath } from "node:url"
import { parseArgs } from "node:util"
import { type Logger, pino } from "pino"
import { FileProblem } from "../db/problems.ts"
import { createApp, createPhoneApp } from "./app.ts"
import { openHouse } from "./data/house.ts"
import { copyEachNight } from "./data/nightly.ts"
import { listenOnNetwork, type NetworkListener, networkAddress } from "./devices/listener.ts"
import { PairingDesk } from "./devices/pairing.ts"
import type { Network } from "./devices/routes.ts"
import type { Studio } from "./ledger/studio.ts"
import { type Assets, bundleAssets } from "./web/assets.ts"

const USUAL_PORT = 4180
const USUAL_LAN_PORT = 4181
const HERE = fileURLToPath(new URL("..", import.meta.url))

/** What is wrong with how the program was started: one sentence, exit status 1. */
class StartProblem extends Error {}

interface Start {
  demo: boolean
  folder: string
  port: number
  /** where phones reach it; null: this computer alone */
  lan: { address: string; port: number } | null
}

try {
  await start(readArguments(process.argv.slice(2)))
} catch (error) {
  if (!(error instanceof StartProblem || error instanceof FileProblem)) throw error
  console.error(error.message)
  process.exitCode = 1
}

async function start({ demo, folder, port, lan }: Start): Promise<void> {
  makeFolder(folder)
  const house = openHouse(folder)
  const { studio } = house
  if (demo) {
    const { loadDemo } = await import("../seed/demo.ts")
    loadDemo(studio.file, studio.now())
  }

  const logger = pino({ level: "warn" }, pino.destination({ dest: 2, sync: true }))
  const assets = bundleAssets()
  let phones: NetworkListener | null = null
  const network: Network = { desk: new PairingDesk(), reach: () => phones }
  const server = createServer(createApp(studio, { port: () => port, logger, assets, network, house }))
  const stopCopying = demo ? () => {} : copyEachNight(house, logger)
  const stop = () => {
    stopCopying()
    phones?.close()
    server.closeAllConnections()
    server.close()
    house.close()
    if (demo) rmSync(folder, { recursive: true, force: true })
    process.exit(0)
  }
  process.once("SIGINT", stop)
  process.once("SIGTERM", stop)

  await new Promise<void>((listening, failed) => {
    server.once("error", (error: NodeJS.ErrnoException) => failed(listenProblem(error, port)))
    server.listen(port, "127.0.0.1", () => {
      const address = server.address()
      if (address !== null && typeof address === "object") port = address.port
      listening()
    })
  }).catch((problem: unknown) => {
    house.close()
    if (demo) rmSync(folder, { recursive: true, force: true })
    throw problem
  })
  if (lan !== null) phones = await openToPhones(studio, { ...lan, folder }, { logger, assets, network })
  console.log(`Lotcup${demo ? " with the demo studio" : ""} is ready: http://127.0.0.1:${port}/`)
  console.log(
    demo
      ? "What you try here is gone when you stop it (Ctrl+C)."
      : `Your file: ${studio.file.path} (stop with Ctrl+C)`,
  )
}

/** Opens the second listener; without it Lotcup goes on for this computer alone, and says why. */
async function openToPhones(
  studio: Studio,
  where: { address: string; port: number; folder: string },
  parts: { logger: Logger; assets: Assets; network: Network },
): Promise<NetworkListener | null> {
  const { address } = where
  try {
    const phones = await listenOnNetwork(studio, where, (port) =>
      createPhoneApp(studio, {
        ...parts,
        port,
        reached: () => ({ scheme: "https", names: [address], port: port() }),
      }),
    )
    console.log(`Phones in this network: ${phones.url} (let them in under Set up, Phones)`)
    return phones
  } catch (error) {
    console.error(
      `Phones cannot reach it: ${listenProblem(error as NodeJS.ErrnoException, where.port).message}`,
    )
    return null
  }
}

function readArguments(args: string[]): Start {
  try {
    const { values } = parseArgs({
      args,
      options: {
        demo: { type: "boolean" },
        data: { type: "string" },
        port: { type: "string" },
        lan: { type: "boolean" },
        "lan-address": { type: "string" },
        "lan-port": { type: "string" },
      },
    })
    const demo = values.demo ?? false
    if (demo && values.data !== undefined) {
      throw new StartProblem("The demo keeps nothing, so --data does not go with it. Leave one of them out.")
    }
    const port = portOf("--port", values.port, USUAL_PORT)
    const folder = demo
      ? mkdtempSync(join(tmpdir(), "lotcup-demo-"))
      : resolve(values.data ?? join(HERE, "data"))
    const lan = values.lan
      ? {
          address: lanAddress(values["lan-address"]),
          port: portOf("--lan-port", values["lan-port"], USUAL_LAN_PORT),
        }
      : null
    return { demo, folder, port, lan }
  } catch (error) {
    if (error instanceof StartProblem) throw error
    throw new StartProblem(
      "Start it as: npm start -- [--data FOLDER] [--port NUMBER] [--lan], or npm run demo.",
    )
  }
}

function portOf(option: string, given: string | undefined, usual: number): number {
  const port = Number(given ?? usual)
  if (/^\d*$/.test(given ?? "") && port <= 65_535) return port
  throw new StartProblem(`${option} takes a number from 1 to 65535, not "${given}".`)
}

function lanAddress(given: string | undefined): string {
  if (given !== undefined && !isIPv4(given))
    throw new StartProblem(`--lan-address takes an address like 192.168.1.20, not "${given}".`)
  const address = given ?? networkAddress()
  if (address !== null) return address
  throw new StartProblem(
    "This computer is in no local network. Join one, or say which address with --lan-address.",
  )
}

function makeFolder(folder: string): void {
  try {
    mkdirSync(folder, { recursive: true })
  } catch {
    throw new StartProblem(`The folder ${folder} cannot be made. Choose another with --data.`)
  }
}

function listenProblem(error: NodeJS.ErrnoException, port: number): Error {
  if (error.code === "EADDRINUSE") {
    return new StartProblem(
      `Port ${port} is taken, perhaps by Lotcup itself. Stop that one, or choose another with --port.`,
    )
  }
  if (error.code === "EACCES")
    return new StartProblem(`Port ${port} is not free to use. Choose one above 1023 with --port.`)
  return error
}
