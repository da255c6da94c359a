import { execFileSync } from "node:child_process"
import { mkdtempSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { Temporal } from "temporal-polyfill"
import { connectToRead } from "../../db/file.ts"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { verify } from "../../server/verify/service.ts"
import { chance } from "../support/chance.ts"
import { type Answer, type Sent, send } from "./browser-like.ts"
import { anyDeed } from "./busy-hour.ts"
import { startStudio } from "./studio-process.ts"

const DISK = "16m"
const MOST_DEEDS = 3_000
const WHEN_FULL = 20

/** What a full disk came to. */
export interface Full {
  /** done before the disk was full */
  done: number
  /** refused because it was */
  refused: number
  /** what was said then */
  sentences: string[]
  /** what went wrong; none: all is well */
  wrong: string[]
}

/**
 * A studio on a small disk (a tmpfs of its own: only where one may be made, as root on Linux) works until the disk is
 * full, is told so in a sentence, loses nothing, and goes on once there is room again.
 *
 * @returns null where no small disk can be made
 */
export async function fillingDisk(seed: number): Promise<Full | null> {
  const folder = mkdtempSync(join(tmpdir(), "lotcup-full-"))
  try {
    execFileSync("mount", ["-t", "tmpfs", "-o", `size=${DISK}`, "tmpfs", folder], { stdio: "ignore" })
  } catch {
    rmSync(folder, { recursive: true })
    return null
  }
  const resize = (size: string) =>
    execFileSync("mount", ["-o", `remount,size=${size}`, folder], { stdio: "ignore" })
  const path = join(folder, "studio.db")
  const random = chance(seed)
  const result: Full = { done: 0, refused: 0, sentences: [], wrong: [] }
  const known: Sent[] = []
  const studio = await (async () => {
    const file = openStudioFile(path)
    loadDemo(file, Temporal.Now.instant())
    file.close()
    // no more room than what is left in the pages at hand
    resize(`${Math.ceil(usedKb(folder) + 300)}k`)
    return startStudio(folder)
  })()
  try {
    const packCodes = packCodesOf(path)
    const note = (sent: Sent, answer: Answer) => {
      if (answer.status === 303) {
        result.done += 1
        known.push(sent)
      } else if (answer.status === 503) {
        result.refused += 1
        result.sentences.push(answer.problems[0] ?? "")
      } else if (answer.status >= 500) result.wrong.push(`${sent.path}: ${answer.status}`)
    }
    for (let deeds = 0; deeds < MOST_DEEDS && result.refused < WHEN_FULL; deeds++) {
      const sent = await anyDeed({ url: studio.url, random, packCodes })
      if (sent) note(sent, await send(studio.url, sent))
    }
    const refusedWhenFull = result.refused
    if (refusedWhenFull === 0) result.wrong.push("the disk was never full")
    for (const sentence of result.sentences)
      if (!/disk is full/i.test(sentence)) result.wrong.push(`said when the disk was full: "${sentence}"`)
    resize(DISK)
    for (let deeds = 0; deeds < 30; deeds++) {
      const sent = await anyDeed({ url: studio.url, random, packCodes })
      if (sent) note(sent, await send(studio.url, sent))
    }
    if (result.refused > refusedWhenFull) result.wrong.push("it does not go on once there is room again")
    await studio.kill()
    const end = connectToRead(path)
    result.wrong.push(...verify(end).map(({ rule, where, sentence }) => `${rule}: ${where}: ${sentence}`))
    for (const { key, path: to } of known) {
      if (!end.firstText("SELECT 1 FROM action WHERE key = ?", [key])) result.wrong.push(`lost: ${to}`)
    }
    end.close()
    return result
  } finally {
    await studio.kill()
    execFileSync("umount", ["-l", folder], { stdio: "ignore" })
    rmSync(folder, { recursive: true, force: true })
  }
}

function usedKb(folder: string): number {
  const [, line] = execFileSync("df", ["-k", "--output=used", folder], { encoding: "utf8" })
    .trim()
    .split("\n")
  return Number(line)
}

function packCodesOf(path: string): string[] {
  const file = connectToRead(path)
  const codes = file.allText<{ code: string }>("SELECT code FROM pack_code").map((row) => row.code)
  file.close()
  return codes
}
