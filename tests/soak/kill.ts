import { mkdtempSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { setTimeout as wait } from "node:timers/promises"
import { Temporal } from "temporal-polyfill"
import { connectToRead, type StudioFile } from "../../db/file.ts"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { verify } from "../../server/verify/service.ts"
import { type Chance, chance } from "../support/chance.ts"
import { type Answer, type Sent, send } from "./browser-like.ts"
import { anyDeed, type Bench } from "./busy-hour.ts"
import { type StudioProcess, startStudio } from "./studio-process.ts"

const CLIENTS = 3
/** Forms answered between a start and the kill: at least so many, and up to so many more. */
const LEAST_ANSWERS = 3
const MORE_ANSWERS = 20
/** The kill comes up to so long after the last of them: in the middle of whatever is going on then. */
const MOST_MS = 60

/** What killing came to. */
export interface Killed {
  kills: number
  /** actions that were acknowledged, by what they were */
  done: ReadonlyMap<string, number>
  refused: number
  /** sent and never answered: how many had been done, and how many not */
  cutOff: { done: number; notDone: number }
  /** forms that were sent again after a start */
  replayed: number
  /** what went wrong; none: all is well */
  wrong: string[]
}

/**
 * Kills the program at random moments of a busy hour and starts it again. After each start: the book agrees with every
 * rule; what was acknowledged is there, once; what was not is there whole or not at all; the same form sent again gets
 * its first answer and changes nothing.
 */
export async function killing(kills: number, seed: number): Promise<Killed> {
  const folder = mkdtempSync(join(tmpdir(), "lotcup-soak-"))
  const path = join(folder, "studio.db")
  const random = chance(seed)
  try {
    const file = openStudioFile(path)
    loadDemo(file, Temporal.Now.instant())
    const packCodes = file.allText<{ code: string }>("SELECT code FROM pack_code").map((row) => row.code)
    const before = new Set(keysOf(file))
    file.close()

    const all = { kills: 0, done: new Map<string, number>(), refused: 0, replayed: 0, wrong: [] as string[] }
    const cutOff = { done: 0, notDone: 0 }
    const known = new Map<string, Answer>()
    let hanging: Sent[] = []
    let last: [Sent, Answer][] = []
    let studio = await startStudio(folder)
    for (;;) {
      const seen = openToRead(path)
      all.wrong.push(...problemsOf(seen, before, known, hanging))
      const keys = new Set(keysOf(seen))
      const actions = keys.size
      seen.close()
      for (const sent of hanging) cutOff[keys.has(sent.key) ? "done" : "notDone"] += 1
      all.replayed += last.length
      for (const [sent, first] of last)
        all.wrong.push(...differences(sent, first, await send(studio.url, sent)))
      const after = openToRead(path)
      if (keysOf(after).length !== actions) all.wrong.push("forms sent again were done again")
      after.close()
      // what hung is sent again too, as its page would when the person tries again
      for (const sent of hanging) {
        const answer = await send(studio.url, sent)
        if (answer.status >= 500) all.wrong.push(`${sent.path} sent again: ${answer.status}`)
        if (answer.status === 303) known.set(sent.key, answer)
        else if (keys.has(sent.key)) all.wrong.push(`${sent.path} was done and is refused when sent again`)
      }
      if (all.kills === kills || all.wrong.length > 0) break

      const shift = await workUntilKilled(studio, { random, packCodes })
      all.kills += 1
      all.refused += shift.refused
      all.wrong.push(...shift.broken)
      hanging = shift.hanging
      last = shift.answered
      for (const [sent, answer] of last) known.set(sent.key, answer)
      studio = await startStudio(folder)
    }
    await studio.kill()
    const end = openToRead(path)
    for (const { kind, count } of end.allText<{ kind: string; count: number }>(
      "SELECT kind, count(*) AS count FROM action WHERE key IN (SELECT value FROM json_each(?)) GROUP BY kind",
      [JSON.stringify([...known.keys()])],
    ))
      all.done.set(kind, count)
    end.close()
    return { ...all, cutOff }
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

/** Several people at work at once, until the program is gone. */
async function workUntilKilled(studio: StudioProcess, { random, packCodes }: Omit<Bench, "url">) {
  const shift = {
    answered: [] as [Sent, Answer][],
    hanging: [] as Sent[],
    refused: 0,
    broken: [] as string[],
  }
  let isOver = false
  let enough = () => {}
  const hasWorked = new Promise<void>((resolve) => {
    enough = resolve
  })
  let left = LEAST_ANSWERS + random.below(MORE_ANSWERS)
  const work = async (own: Chance) => {
    while (!isOver) {
      let sent: Sent | null = null
      try {
        sent = await anyDeed({ url: studio.url, random: own, packCodes })
        if (sent === null) continue
        const answer = await send(studio.url, sent)
        if (answer.status === 303) shift.answered.push([sent, answer])
        else shift.refused += 1
        if (answer.status >= 500) shift.broken.push(`${sent.path}: ${answer.status}`)
        if (--left === 0) enough()
      } catch (error) {
        if (!isOver) throw error
        if (sent !== null) shift.hanging.push(sent)
      }
    }
  }
  const clients = Array.from({ length: CLIENTS }, () => work(chance(random.below(2 ** 31))))
  await Promise.race([hasWorked, ...clients])
  await wait(random.below(MOST_MS))
  isOver = true
  await studio.kill()
  await Promise.all(clients)
  return shift
}

function problemsOf(
  file: StudioFile,
  before: ReadonlySet<string>,
  known: ReadonlyMap<string, Answer>,
  hanging: readonly Sent[],
): string[] {
  const wrong = verify(file).map(({ rule, where, sentence }) => `${rule}: ${where}: ${sentence}`)
  const times = new Map<string, number>()
  for (const key of keysOf(file)) times.set(key, (times.get(key) ?? 0) + 1)
  for (const key of known.keys()) {
    if (times.get(key) !== 1) wrong.push(`an acknowledged action is there ${times.get(key) ?? 0} times`)
  }
  const expected = new Set([...before, ...known.keys(), ...hanging.map((sent) => sent.key)])
  for (const key of times.keys()) if (!expected.has(key)) wrong.push("an action that nobody sent")
  return wrong
}

function differences(sent: Sent, first: Answer, again: Answer): string[] {
  return first.status === again.status && first.next === again.next
    ? []
    : [
        `${sent.path} sent again: ${again.status} ${again.next} ${again.problems[0] ?? ""}, at first ${first.status} ${first.next}`,
      ]
}

function keysOf(file: StudioFile): string[] {
  return file.allText<{ key: string }>("SELECT key FROM action").map((row) => row.key)
}

function openToRead(path: string): StudioFile {
  return connectToRead(path)
}
