import { mkdirSync, mkdtempSync, rmSync } from "node:fs"
import { createServer } from "node:http"
import { tmpdir } from "node:os"
import { join, resolve } from "node:path"
import { fileURLToPath } from "node:url"
import { parseArgs } from "node:util"
import { pino } from "pino"
import { Temporal } from "temporal-polyfill"
import { openStudioFile } from "../db/migrate.ts"
import { FileProblem } from "../db/problems.ts"
import { createApp } from "./app.ts"
import type { Studio } from "./ledger/studio.ts"

const USUAL_PORT = 4180
const HERE = fileURLToPath(new URL("..", import.meta.url))

/** What is wrong with how the program was started: one sentence, exit status 1. */
class StartProblem extends Error {}

interface Start {
  demo: boolean
  folder: string
  port: number
}

try {
  await start(readArguments(process.argv.slice(2)))
} catch (error) {
  if (!(error instanceof StartProblem || error instanceof FileProblem)) throw error
  console.error(error.message)
  process.exitCode = 1
}

async function start({ demo, folder, port }: Start): Promise<void> {
  makeFolder(folder)
  const file = openStudioFile(join(folder, "studio.db"))
  const studio: Studio = { file, now: () => Temporal.Now.instant() }
  if (demo) {
    const { loadDemo } = await import("../seed/demo.ts")
    loadDemo(file, studio.now())
  }

  const logger = pino({ level: "warn" }, pino.destination({ dest: 2, sync: true }))
  const server = createServer(createApp(studio, { port: () => port, logger }))
  const stop = () => {
    server.closeAllConnections()
    server.close()
    file.close()
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
    file.close()
    if (demo) rmSync(folder, { recursive: true, force: true })
    throw problem
  })
  console.log(`Lotcup${demo ? " with the demo studio" : ""} is ready: http://127.0.0.1:${port}/`)
  console.log(
    demo
      ? "What you try here is gone when you stop it (Ctrl+C)."
      : `Your file: ${file.path} (stop with Ctrl+C)`,
  )
}

function readArguments(args: string[]): Start {
  try {
    const { values } = parseArgs({
      args,
      options: { demo: { type: "boolean" }, data: { type: "string" }, port: { type: "string" } },
    })
    const demo = values.demo ?? false
    if (demo && values.data !== undefined) {
      throw new StartProblem("The demo keeps nothing, so --data does not go with it. Leave one of them out.")
    }
    const port = Number(values.port ?? USUAL_PORT)
    if (!/^\d*$/.test(values.port ?? "") || port < 0 || port > 65_535) {
      throw new StartProblem(`--port takes a number from 1 to 65535, not "${values.port}".`)
    }
    const folder = demo
      ? mkdtempSync(join(tmpdir(), "lotcup-demo-"))
      : resolve(values.data ?? join(HERE, "data"))
    return { demo, folder, port }
  } catch (error) {
    if (error instanceof StartProblem) throw error
    throw new StartProblem("Start it as: npm start -- [--data FOLDER] [--port NUMBER], or npm run demo.")
  }
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
