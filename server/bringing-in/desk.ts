import { createHash, randomBytes } from "node:crypto"
import { createReadStream, rmSync } from "node:fs"
import { setImmediate } from "node:timers/promises"
import { stringify } from "csv-stringify/sync"
import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, actSlowly, type Done } from "../ledger/act.ts"
import { BROUGHT_IN } from "../ledger/brought-in.ts"
import { madeMany, type Thing } from "../ledger/row-change.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { Cells, type Decimals, type Manner } from "./cells.ts"
import { headKey, ROWS_AT_ONCE, type Row, refused, rowsOf, type Shape, shapeOf } from "./csv-file.ts"
import type { Kind, Seen } from "./kind.ts"

/** A file that was sent, and what came of looking it over. */
export interface Draft {
  id: string
  kind: Kind
  shape: Shape
  decimals: Decimals
  stage: "looking" | "looked over" | "writing" | "done" | "failed"
  /** rows gone through in this stage */
  rows: number
  counts: Record<Seen["state"], number>
  /** what the first of those that are new are called */
  added: string[]
  /** the first of those that would change, in words */
  changes: string[]
  /** what is wrong, by row number */
  problems: Map<number, string>
  /** heads that are not known here */
  passedOver: string[]
  /** of the very same file, when it was brought in before and that stands */
  broughtInOn: string | null
  /** why it could not be read at all */
  sentence: string | null
}

/** Rows of a file at most. */
export const MOST_ROWS = 200_000
const MOST_DRAFTS = 5
const ADDED_SHOWN = 20
const CHANGES_SHOWN = 50
const WHAT_IS_WRONG = "What is wrong"

/**
 * Files on their way into the book. They lie beside it, and are gone when Lotcup stops: then they are sent again.
 */
export class Desk {
  readonly #studio: Studio
  readonly #drafts = new Map<string, { draft: Draft; path: string; hash: string; looking: Promise<void> }>()

  constructor(studio: Studio) {
    this.#studio = studio
  }

  /** @throws {Refusal} 404: never sent, or gone */
  draft(id: string): Draft {
    return this.#held(id).draft
  }

  /**
   * Takes a file and begins to look it over.
   *
   * @param path the file, which the desk removes when it is done with it
   * @returns a draft; `whenLookedOver` says when it is looked over
   * @throws {Refusal} 422: no such file can be read; a column that is needed is not there, or one stands twice
   */
  async take(path: string, kind: Kind, decimals: Decimals): Promise<Draft> {
    try {
      const shape = await shapeOf(path)
      const places = placesOf(kind, shape)
      const draft: Draft = {
        id: randomBytes(8).toString("hex"),
        kind,
        shape,
        decimals,
        stage: "looking",
        rows: 0,
        counts: { new: 0, changed: 0, same: 0 },
        added: [],
        changes: [],
        problems: new Map(),
        passedOver: shape.heads.filter(
          (head, index) =>
            head !== "" && ![...places.values()].includes(index) && headKey(head) !== headKey(WHAT_IS_WRONG),
        ),
        broughtInOn: null,
        sentence: null,
      }
      const hash = await hashOf(path)
      draft.broughtInOn = this.#broughtInOn(hash, kind)
      const looking = this.#lookOver(draft, path).catch((error: unknown) => {
        draft.stage = "failed"
        draft.sentence = error instanceof Refusal ? error.message : UNREADABLE
      })
      this.#drafts.set(draft.id, { draft, path, hash, looking })
      this.#dropOldest()
      return draft
    } catch (error) {
      rmSync(path, { force: true })
      throw error
    }
  }

  whenLookedOver(id: string): Promise<void> {
    return this.#held(id).looking
  }

  /**
   * Brings a file in that was looked over: all of it in one action, or nothing.
   *
   * @throws {Refusal} it is not looked over yet, something is wrong with it, or the book has changed since so that a
   *   row no longer fits: a sentence with the row
   */
  async bringIn(by: Actor, id: string): Promise<Done<{ new: number; changed: number }>> {
    const { draft, path, hash } = this.#held(id)
    const { kind, decimals } = draft
    if (draft.stage === "writing")
      throw new Refusal("That file is being brought in already.", { status: 409 })
    if (draft.stage === "looking")
      throw new Refusal("That file is not looked over yet. Wait a moment.", { status: 409 })
    if (draft.stage === "failed" || draft.problems.size > 0) {
      throw new Refusal("Nothing was brought in: mend what is wrong in the file, and send it again.", {
        status: 422,
      })
    }
    const wasDone = draft.stage === "done"
    if (!wasDone && draft.counts.new + draft.counts.changed === 0) {
      throw new Refusal("There is nothing new in that file.", { status: 422 })
    }
    const asked = { bringIn: kind.name, hash, decimals }
    try {
      const done = await actSlowly(this.#studio, BROUGHT_IN, by, asked, async (now) => {
        if (wasDone) throw new Refusal("That file was brought in already.", { status: 409 })
        draft.stage = "writing"
        const counts = await this.#write(now, draft, path)
        return { summary: summaryOf(kind, counts), answer: { ...counts, kind: kind.name, hash } }
      })
      draft.stage = "done"
      rmSync(path, { force: true })
      return done
    } catch (error) {
      // nothing of it was kept
      if (!wasDone) draft.stage = "looked over"
      throw error
    }
  }

  /** The file with a column more that says what is wrong, piece by piece, to be mended and sent again. */
  async *whatIsWrong(id: string): AsyncGenerator<string> {
    const { draft, path } = this.#held(id)
    const { shape, problems } = draft
    if (draft.stage === "done") throw new Refusal("That file was brought in.", { status: 404 })
    const own = shape.heads.findIndex((head) => headKey(head) === headKey(WHAT_IS_WRONG))
    const width = shape.heads.length
    const line = (cells: readonly string[], words: string) => {
      const wide = Array.from({ length: width }, (_, index) => cells[index] ?? "")
      return stringify([[...wide.filter((_, index) => index !== own), words]], {
        delimiter: shape.delimiter,
        record_delimiter: "windows",
        escape_formulas: true,
      })
    }
    yield `\u{feff}${line(shape.heads, WHAT_IS_WRONG)}`
    for await (const row of rowsOf(path, shape)) yield line(row.cells, problems.get(row.number) ?? "")
  }

  async #lookOver(draft: Draft, path: string): Promise<void> {
    const { kind } = draft
    const reading = kind.open(this.#studio, this.#manner(draft))
    for await (const rows of this.#things(draft, path)) {
      const seen = reading.look(rows)
      if (seen === null) {
        for (const { number, problems } of rows) {
          if (problems.length > 0) draft.problems.set(number, problems.map(capital).join(" "))
        }
        continue
      }
      draft.counts[seen.state] += 1
      if (seen.state === "new" && draft.added.length < ADDED_SHOWN) draft.added.push(seen.called)
      if (draft.changes.length < CHANGES_SHOWN) draft.changes.push(...seen.says)
    }
    if (draft.rows === 0) throw refused("There is no row under the heads of that file.")
    draft.stage = "looked over"
  }

  async #write(now: Act, draft: Draft, path: string): Promise<{ new: number; changed: number }> {
    const reading = draft.kind.open(this.#studio, this.#manner(draft))
    const counts = { new: 0, changed: 0 }
    const made = new Map<Thing, number[]>()
    const keep = (thing: Thing, id: number) => {
      const ids = made.get(thing) ?? []
      made.set(thing, ids)
      ids.push(id)
    }
    let since = 0
    for await (const rows of this.#things(draft, path)) {
      const seen = reading.look(rows)
      const [first] = rows
      if (seen === null)
        throw changedSince(first?.number ?? 0, rows.flatMap(({ problems }) => problems).join(" "))
      if (seen.state !== "same") counts[seen.state] += 1
      try {
        seen.write(now, keep)
      } catch (error) {
        throw error instanceof Refusal ? changedSince(first?.number ?? 0, error.message) : error
      }
      since += 1
      if (since % WRITTEN_AT_ONCE === 0) await setImmediate()
    }
    for (const [thing, ids] of made) {
      for (let from = 0; from < ids.length; from += ROWS_AT_ONCE * 5) {
        madeMany(now, thing, ids.slice(from, from + ROWS_AT_ONCE * 5))
        await setImmediate()
      }
    }
    return counts
  }

  /** Rows that belong together, as cells that can be read; those of a file too long are refused. */
  async *#things(draft: Draft, path: string): AsyncGenerator<Cells[]> {
    const { kind, shape } = draft
    const places = placesOf(kind, shape)
    const manner = this.#manner(draft)
    draft.rows = 0
    let together: Cells[] = []
    const same = (cells: Cells) =>
      kind.together !== undefined && together[0]?.said(kind.together) === cells.said(kind.together)
    for await (const row of rowsOf(path, shape)) {
      draft.rows += 1
      if (draft.rows > MOST_ROWS) {
        throw refused(`A file has at most ${MOST_ROWS.toLocaleString("en-US")} rows. Bring it in in parts.`)
      }
      const cells = new Cells(row, places, manner)
      if (
        row.cells.length > shape.heads.length &&
        row.cells.slice(shape.heads.length).some((cell) => cell !== "")
      ) {
        cells.wrong(null, tooMany(row, shape))
      }
      if (together.length > 0 && !same(cells)) {
        yield together
        together = []
      }
      together.push(cells)
    }
    if (together.length > 0) yield together
  }

  #manner({ decimals }: Draft): Manner {
    const { currency, units } = settingsOf(this.#studio)
    return { currency, units, decimals }
  }

  #broughtInOn(hash: string, kind: Kind): string | null {
    const before = this.#studio.file.firstText<{ happened_on: string }>(
      `SELECT happened_on FROM action a WHERE kind = '${BROUGHT_IN}' AND answer ->> '$.hash' = ? AND answer ->> '$.kind' = ?
         AND ${stands("a.id")} ORDER BY id DESC LIMIT 1`,
      [hash, kind.name],
    )
    return before?.happened_on ?? null
  }

  #held(id: string) {
    const held = this.#drafts.get(id)
    if (!held) throw new Refusal("That file is not held here any more. Choose it again.", { status: 404 })
    return held
  }

  /** The oldest that is not being read or written goes. */
  #dropOldest(): void {
    for (const [id, { draft, path }] of this.#drafts) {
      if (this.#drafts.size <= MOST_DRAFTS) return
      if (draft.stage === "looking" || draft.stage === "writing") continue
      rmSync(path, { force: true })
      this.#drafts.delete(id)
    }
  }
}

const WRITTEN_AT_ONCE = 50
const UNREADABLE = "That file could not be read to its end. Choose it again."

/** Where each column of a kind stands in a file. @throws {Refusal} one that is needed is missing, or stands twice */
function placesOf(kind: Kind, shape: Shape): Map<string, number> {
  const places = new Map<string, number>()
  const keys = shape.heads.map(headKey)
  for (const { head, also = [] } of kind.columns) {
    const names = [head, ...also].map(headKey)
    // its own head before other words for it, which may be another column's own
    const own = keys.flatMap((key, index) => (key === names[0] ? [index] : []))
    const isOthers = (key: string) =>
      kind.columns.some((other) => other.head !== head && headKey(other.head) === key)
    const others = keys.flatMap((key, index) =>
      names.slice(1).includes(key) && !isOthers(key) ? [index] : [],
    )
    const found = own.length > 0 ? own : others
    if (found.length > 1)
      throw refused(`The column “${head}” stands in the file twice. Take one of them out.`)
    if (found[0] !== undefined) places.set(head, found[0])
  }
  const missing = kind.columns
    .filter(({ head, needed }) => needed && !places.has(head))
    .map(({ head }) => `“${head}”`)
  if (missing.length > 0) {
    throw refused(
      `The file has no column ${missing.join(" and ")}. Its first row must name the columns as the template does; found were: ${shape.heads
        .slice(0, 8)
        .map((head) => `“${head.slice(0, 30)}”`)
        .join(", ")}.`,
    )
  }
  return places
}

function tooMany(row: Row, shape: Shape): string {
  return `The row has ${row.cells.length} cells and there are ${shape.heads.length} columns: a cell that holds “${shape.delimiter === "\t" ? "a tab" : shape.delimiter}” must stand in quotation marks.`
}

function changedSince(row: number, sentence: string): Refusal {
  return new Refusal(
    `Nothing was brought in. Row ${row}: ${sentence} The book has changed since the file was looked over; send the file again.`,
    { status: 409 },
  )
}

function summaryOf(kind: Kind, counts: { new: number; changed: number }): string {
  const all = counts.new + counts.changed
  const what = `${all.toLocaleString("en-US")} ${all === 1 ? kind.one : kind.many}`
  return counts.changed === 0
    ? `Brought in ${what}`
    : `Brought in ${what}: ${counts.new} new, ${counts.changed} changed`
}

function capital(sentence: string): string {
  return sentence.charAt(0).toUpperCase() + sentence.slice(1)
}

async function hashOf(path: string): Promise<string> {
  const hash = createHash("sha256")
  for await (const part of createReadStream(path) as AsyncIterable<Buffer>) hash.update(part)
  return hash.digest("hex")
}
