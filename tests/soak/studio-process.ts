import { type ChildProcess, spawn } from "node:child_process"
import { once } from "node:events"
import { fileURLToPath } from "node:url"

const HERE = fileURLToPath(new URL("../..", import.meta.url))
const MOST_WAIT_MS = 60_000

/** The program itself in a process of its own, as `npm start` starts it. */
export interface StudioProcess {
  url: string
  /** ends it without a warning (SIGKILL), whatever it is doing; resolves once it is gone, also a second time */
  kill(): Promise<void>
}

/**
 * Starts the program on a folder, on a free port of 127.0.0.1.
 *
 * @throws {Error} with what it said, when it ends or says nothing within a minute
 */
export async function startStudio(folder: string): Promise<StudioProcess> {
  const child = spawn(
    process.execPath,
    ["--max-semi-space-size=4", "--import", "tsx", "server/main.ts", "--data", folder, "--port", "0"],
    { cwd: HERE, stdio: ["ignore", "pipe", "pipe"] },
  )
  const url = await ready(child)
  return {
    url,
    kill: async () => {
      if (child.exitCode !== null || child.signalCode !== null) return
      const gone = once(child, "exit")
      child.kill("SIGKILL")
      await gone
    },
  }
}

function ready(child: ChildProcess): Promise<string> {
  return new Promise((resolve, reject) => {
    let said = ""
    const tooLong = setTimeout(() => {
      child.kill("SIGKILL")
      reject(new Error(`not ready after ${MOST_WAIT_MS} ms: ${said}`))
    }, MOST_WAIT_MS)
    const hear = (chunk: Buffer) => {
      said += chunk.toString()
      const url = /is ready: (http:\/\/127\.0\.0\.1:\d+)\//.exec(said)?.[1]
      if (url === undefined) return
      clearTimeout(tooLong)
      resolve(url)
    }
    child.stdout!.on("data", hear)
    child.stderr!.on("data", hear)
    child.once("exit", (code) => {
      clearTimeout(tooLong)
      reject(new Error(`ended with ${code}: ${said}`))
    })
  })
}
