import { spawn } from "node:child_process"
import { randomUUID } from "node:crypto"
import { once } from "node:events"
import { mkdtempSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { fileURLToPath } from "node:url"
import { Temporal } from "temporal-polyfill"
import { connectToRead } from "../../db/file.ts"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { verify } from "../../server/verify/service.ts"
import { type Chance, chance } from "../support/chance.ts"
import { type Answer, filledIn, formsOn, send } from "./browser-like.ts"
import { startStudio } from "./studio-process.ts"

const CLIENTS = 8
const BOTTLES = 3
const TAKEN_UL = 1_000
/** Longer than the program waits for a file that is in use. */
const HELD_MS = 7_000

/** What a crowd at the same bottles came to. */
export interface Crowd {
  /** takes that were acknowledged */
  taken: number
  /** takes that were refused, by sentence */
  refused: ReadonlyMap<string, number>
  /** bottles that were emptied */
  emptied: number
  /** what went wrong; none: all is well */
  wrong: string[]
}

/**
 * Eight clients take a millilitre at a time from the same few bottles, through two programs that have the same file
 * open, while a third program takes the file for itself now and then: once for longer than anybody waits. What was
 * acknowledged is what is gone, no bottle is below nothing, and who is refused is told why.
 *
 * @param leastMl the smallest bottles are used that hold at least so much
 */
export async function crowding(seconds: number, leastMl: number, seed: number): Promise<Crowd> {
  const folder = mkdtempSync(join(tmpdir(), "lotcup-crowd-"))
  const path = join(folder, "studio.db")
  try {
    const file = openStudioFile(path)
    loadDemo(file, Temporal.Now.instant())
    const bottles = file.allText<{ code: string; amount_left: number }>(
      `SELECT c.code, c.amount_left FROM container c JOIN supply s ON s.id = c.supply_id
       WHERE s.base_unit = 'uL' AND c.amount_left >= ? AND NOT c.held ORDER BY c.amount_left LIMIT ?`,
      [leastMl * 1_000, BOTTLES],
    )
    file.close()
    const before = new Map(bottles.map((bottle) => [bottle.code, bottle.amount_left]))
    const studios = [await startStudio(folder), await startStudio(folder)]
    const rude = spawn(
      process.execPath,
      [
        fileURLToPath(new URL("hold-file.mjs", import.meta.url)),
        path,
        String(Math.min(HELD_MS, seconds * 500)),
      ],
      { stdio: "inherit" },
    )
    const until = Date.now() + seconds * 1_000
    const random = chance(seed)
    const taken = new Map<string, number>()
    const refused = new Map<string, number>()
    const wrong: string[] = []
    await Promise.all(
      Array.from({ length: CLIENTS }, async (_, index) => {
        const { url } = studios[index % studios.length]!
        const own = chance(random.below(2 ** 31))
        while (Date.now() < until) {
          const code = bottles[own.below(bottles.length)]!.code
          const answer = await take(url, code, own)
          if (answer.status === 303) taken.set(code, (taken.get(code) ?? 0) + 1)
          else {
            const why = answer.problems[0] ?? ""
            refused.set(`${answer.status} ${why}`, (refused.get(`${answer.status} ${why}`) ?? 0) + 1)
            if (![422, 503].includes(answer.status) || why === "") wrong.push(`${answer.status} ${why}`)
          }
        }
      }),
    )
    rude.kill("SIGTERM")
    if (rude.exitCode === null) await once(rude, "exit")
    for (const studio of studios) await studio.kill()

    const end = connectToRead(path)
    wrong.push(...verify(end).map(({ rule, where, sentence }) => `${rule}: ${where}: ${sentence}`))
    let emptied = 0
    for (const { code } of bottles) {
      const { amount_left: left } = end.firstText<{ amount_left: number }>(
        "SELECT amount_left FROM container WHERE code = ?",
        [code],
      )!
      const gone = before.get(code)! - left
      const acknowledged = (taken.get(code) ?? 0) * TAKEN_UL
      if (left < 0) wrong.push(`${code} is at ${left}`)
      if (left < TAKEN_UL) emptied += 1
      if (gone !== acknowledged) wrong.push(`${code}: ${gone} µL are gone, ${acknowledged} were acknowledged`)
    }
    end.close()
    return { taken: [...taken.values()].reduce((a, b) => a + b, 0), refused, emptied, wrong }
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

/** A spilled millilitre, by the page's own form; now and then sent twice, as a double tap does. */
async function take(url: string, code: string, random: Chance): Promise<Answer> {
  const { forms } = await untilAnswered(() => formsOn(url, `/containers/${code}`))
  const form = forms.find((one) => one.path.endsWith("/write-off"))
  if (!form) return { status: 422, next: null, problems: ["Nothing is left to take."] }
  const sent = filledIn(form, { key: randomUUID(), amount: "1 mL", kind: "waste", reason: "spilled" })
  const sending = () => untilAnswered(() => send(url, sent))
  const [answer, again] = await Promise.all(random.below(4) === 0 ? [sending(), sending()] : [sending()])
  // the first may have been refused because the file was in use, and the second not
  return again?.status === 303 ? again : answer!
}

/** A connection that was idle may be closed just as it is used again; a browser opens another, and so does this. */
async function untilAnswered<T>(ask: () => Promise<T>): Promise<T> {
  try {
    return await ask()
  } catch {
    return ask()
  }
}
