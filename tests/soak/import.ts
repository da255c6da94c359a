import { mkdtempSync, readdirSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { setTimeout as wait } from "node:timers/promises"
import { Temporal } from "temporal-polyfill"
import { connectToRead } from "../../db/file.ts"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { verify } from "../../server/verify/service.ts"
import { sendTable } from "../support/bring-in.ts"
import { chance } from "../support/chance.ts"
import { filledIn, formsOn, send } from "./browser-like.ts"
import { startStudio } from "./studio-process.ts"

/** What killing a long import came to. */
export interface KilledImport {
  kills: number
  rows: number
  /** killed before it was all written, and after */
  cutOff: number
  whole: number
  wrong: string[]
}

/**
 * Kills the program while it brings in a long file, and starts it again. After each start: the book agrees with every
 * rule, all rows of the file are there or none, and all where the program said so; the file that was sent is gone from
 * the folder.
 *
 * @param rows of each file, supplies never seen before
 */
export async function killingImport(kills: number, rows: number, seed: number): Promise<KilledImport> {
  const folder = mkdtempSync(join(tmpdir(), "lotcup-import-"))
  const path = join(folder, "studio.db")
  const random = chance(seed)
  const result: KilledImport = { kills: 0, rows, cutOff: 0, whole: 0, wrong: [] }
  try {
    const file = openStudioFile(path)
    loadDemo(file, Temporal.Now.instant())
    file.close()
    // once to its end: how long the kill may wait, and that such a file goes in at all
    const mostMs = await bringIn(folder, "Whole", rows, null)
    result.wrong.push(...wrongIn(path, "Whole", rows, true))
    const kept = readdirSync(folder).sort()
    for (let round = 1; round <= kills && result.wrong.length === 0; round++) {
      const name = `Round ${round}`
      const said = await bringIn(folder, name, rows, random.below(Math.ceil(mostMs)))
      result.kills += 1
      const again = await startStudio(folder)
      const left = readdirSync(folder).filter((one) => !kept.includes(one))
      if (left.length > 0) result.wrong.push(`left in the folder: ${left.join(", ")}`)
      await again.kill()
      result.wrong.push(...wrongIn(path, name, rows, said !== 0))
      if (brought(path, name) === 0) result.cutOff += 1
      else result.whole += 1
    }
    return result
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

/**
 * Sends a file, has it brought in, and kills the program.
 *
 * @param killAfterMs after the form was sent; null: once it was answered
 * @returns the ms until it said that all is in; 0: it did not get to say so
 */
async function bringIn(folder: string, name: string, rows: number, killAfterMs: number | null) {
  const studio = await startStudio(folder)
  try {
    const lines = Array.from({ length: rows }, (_, n) => `${name} ${n + 1},glitter,weight`)
    const { status, to } = await sendTable(studio, "supplies", ["Name,Kind,Counted by", ...lines].join("\n"))
    if (status !== 200 || to === undefined) throw new Error(`the file was answered ${status}`)
    const form = await formOn(studio.url, to)
    const began = performance.now()
    const answered = send(studio.url, form).then(
      (answer) => {
        if (answer.status !== 303) throw new Error(`${answer.status}: ${answer.problems[0]}`)
        return performance.now() - began
      },
      // the connection breaks off when it is killed
      () => 0,
    )
    if (killAfterMs === null) await answered
    else await Promise.race([answered, wait(killAfterMs)])
    await studio.kill()
    return await answered
  } finally {
    await studio.kill()
  }
}

/** The form that brings it in, there once it is looked over. */
async function formOn(url: string, address: string) {
  for (let tries = 0; tries < 600; tries++) {
    const found = (await formsOn(url, address)).forms.find((form) => form.path === address)
    if (found) return filledIn(found)
    await wait(100)
  }
  throw new Error("the file was not looked over within a minute")
}

function wrongIn(path: string, name: string, rows: number, saidDone: boolean): string[] {
  const file = connectToRead(path)
  const wrong = verify(file).map(({ rule, where, sentence }) => `${rule}: ${where}: ${sentence}`)
  file.close()
  const there = brought(path, name)
  if (there !== 0 && there !== rows) wrong.push(`${there} of ${rows} rows of ${name} are there`)
  if (saidDone && there === 0) wrong.push(`${name} was said to be in, and is not`)
  return wrong
}

function brought(path: string, name: string): number {
  const file = connectToRead(path)
  const { n } = file.firstText<{ n: number }>("SELECT count(*) AS n FROM supply WHERE name LIKE ? || ' %'", [
    name,
  ])!
  file.close()
  return n
}
