import { type ChildProcess, spawn } from "node:child_process"
import { once } from "node:events"
import { readFileSync } from "node:fs"
import { createServer } from "node:http"
import type { AddressInfo } from "node:net"
import { join } from "node:path"
import { setTimeout } from "node:timers/promises"
import { fileURLToPath } from "node:url"
import { Temporal } from "temporal-polyfill"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { type Line, median } from "./measure.ts"

const RUNS = 7
const PROJECT = fileURLToPath(new URL("../../", import.meta.url))
const PAGES = [
  "/",
  "/shelf",
  "/receive",
  "/batches",
  "/forecast",
  "/orders",
  "/trace",
  "/designs",
  "/history",
]

/** As little as a server can be: the same Node, the same loader, and one word for an answer. */
const LEAST = `import("node:http").then(({ createServer }) =>
  createServer((_, answer) => answer.end("ready")).listen(Number(process.argv[1]), "127.0.0.1"))`

/** How `npm start` starts it: what stands between `node` and the file, and the file. */
const { scripts } = JSON.parse(readFileSync(join(PROJECT, "package.json"), "utf8")) as {
  scripts: { start: string }
}
const START = scripts.start.split(" ").slice(1)

/**
 * From starting the process to the first page, in a file with the demo's year and a half in it, and the memory it
 * keeps once the first pages have been looked at; against a server of one line.
 */
export async function starting(folder: string): Promise<Line[]> {
  const file = openStudioFile(join(folder, "studio.db"))
  loadDemo(file, Temporal.Now.instant())
  file.close()
  const ours: Started[] = []
  const least: Started[] = []
  for (let run = -1; run < RUNS; run++) {
    const program = await startOnce((port) => [...START, "--data", folder, "--port", port], PAGES)
    const bare = await startOnce((port) => [...START.slice(0, -1), "-e", LEAST, port], ["/"])
    // the first one fills the loader's cache
    if (run < 0) continue
    ours.push(program)
    least.push(bare)
  }
  const middle = (started: readonly Started[], what: keyof Started) => median(started.map((one) => one[what]))
  return [
    {
      name: "start, until the first page",
      value: middle(ours, "firstPageMs"),
      unit: "ms",
      floor: middle(least, "firstPageMs"),
      aim: { value: 2000 },
    },
    {
      name: `memory, after ${PAGES.length} pages`,
      value: middle(ours, "memoryMb"),
      unit: "MB",
      floor: middle(least, "memoryMb"),
      aim: { value: 200 },
    },
  ]
}

interface Started {
  firstPageMs: number
  memoryMb: number
}

async function startOnce(args: (port: string) => string[], pages: readonly string[]): Promise<Started> {
  const port = await freePort()
  const address = `http://127.0.0.1:${port}`
  const began = performance.now()
  const server = spawn(process.execPath, args(String(port)), {
    cwd: PROJECT,
    stdio: ["ignore", "ignore", "inherit"],
  })
  try {
    await firstPage(server, `${address}${pages[0]}`)
    const firstPageMs = performance.now() - began
    for (const page of pages) {
      const answer = await fetch(`${address}${page}`)
      if (!answer.ok) throw new Error(`${page} answered ${answer.status}`)
      await answer.text()
    }
    return { firstPageMs, memoryMb: memoryMb(server.pid!) }
  } finally {
    const gone = once(server, "exit")
    server.kill("SIGTERM")
    await gone
  }
}

/** Asks until there is a page, for half a minute at most. */
async function firstPage(server: ChildProcess, address: string): Promise<void> {
  for (let tries = 0; tries < 3000; tries++) {
    if (server.exitCode !== null) throw new Error(`the server stopped with status ${server.exitCode}`)
    const answer = await fetch(address).catch(() => null)
    if (answer?.ok) {
      await answer.text()
      return
    }
    await setTimeout(10)
  }
  throw new Error("the server did not answer")
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, "127.0.0.1")
  await once(server, "listening")
  const { port } = server.address() as AddressInfo
  server.close()
  await once(server, "close")
  return port
}

/** What of a process is in memory (Linux: VmRSS). */
function memoryMb(pid: number): number {
  const status = readFileSync(`/proc/${pid}/status`, "utf8")
  const kib = /^VmRSS:\s+(\d+) kB$/m.exec(status)?.[1]
  if (kib === undefined) throw new Error("/proc does not say how much memory the server has")
  return (Number(kib) * 1024) / 1e6
}
