import { isDeepStrictEqual } from "node:util"
import type { StudioFile, Value } from "../../db/file.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Act } from "./act.ts"
import { BROUGHT_IN } from "./brought-in.ts"
import { columnsOf, keyOf, pointersTo } from "./schema.ts"
import { stands } from "./stands.ts"
import { actionsBehind, kindOf, type Part, type Thing, useBy, whereOf } from "./things.ts"

export type { Thing } from "./things.ts"

type Row = Record<string, string | number | null>
/** A thing's rows by table. */
type Standing = Record<string, Row[]>

interface Change {
  thing: Thing
  thing_id: number
  before: string | null
  after: string | null
}

/** The action behind something that rests on a thing; null: not known. */
interface Behind {
  action_id: number | null
}
type Later = (why: string, behind: readonly Behind[]) => string | null

/**
 * Makes a thing as a part of an action, so that undoing the action takes it away again.
 *
 * @param write makes it and returns its id
 * @returns the id
 */
export function made(act: Act, thing: Thing, write: () => number): number {
  const id = write()
  keep(act, thing, id, null)
  return id
}

/**
 * Changes a thing as a part of an action, so that undoing the action puts it back. What is left as it was is not
 * written down.
 */
export function changed(act: Act, thing: Thing, id: number, write: () => void): void {
  const before = standing(act.file, thing, id)
  write()
  keep(act, thing, id, before)
}

function keep(act: Act, thing: Thing, id: number, before: Standing | null): void {
  const text = (rows: Standing | null) => (rows === null ? null : JSON.stringify(rows))
  const change = { before: text(before), after: text(standing(act.file, thing, id)) }
  if (change.before === change.after) return
  act.file.insert("row_change", { action_id: act.actionId, thing, thing_id: id, ...change })
}

/**
 * Puts back what an action changed, each thing only while it still stands as the action left it. What was made
 * along the way (the buyer of an order, when the name was new) stays if something else uses it by now; the last
 * thing written down is what the action was about.
 *
 * @throws {Refusal} a sentence that says which later change stands in the way
 */
export function takeBackChanges(now: Act, actionId: number): void {
  const many = takeBackMany(now, actionId)
  const changes = now.file.allText<Change>(
    "SELECT thing, thing_id, before, after FROM row_change WHERE action_id = ? AND (before IS NOT NULL OR ? = 0) ORDER BY id DESC",
    [actionId, many ? 1 : 0],
  )
  const [about] = changes
  for (const change of changes) {
    const madeAlong =
      change.before === null && (change.thing !== about?.thing || change.thing_id !== about.thing_id)
    const why = whyNot(now, actionId, change)
    if (why === null) putBack(now.file, change)
    else if (!madeAlong) throw new Refusal(why, { status: 409 })
  }
}

/**
 * Makes many things as a part of an action that brings them in, as `made` does one by one.
 *
 * @param ids of things that are written already
 */
export function madeMany(now: Act, thing: Thing, ids: readonly number[]): void {
  now.file.runText(
    `INSERT INTO row_change (action_id, thing, thing_id, before, after)
     SELECT ?, '${thing}', one.value, NULL, ${standingText(now.file, thing, "one.value")} FROM json_each(?) one`,
    [now.actionId, JSON.stringify(ids)],
  )
}

/**
 * Takes away what an action brought in, all or nothing, a kind of thing at a time.
 *
 * @returns false where the action did not bring anything in
 * @throws {Refusal} a sentence that says what stands in the way
 */
function takeBackMany(now: Act, actionId: number): boolean {
  const { file } = now
  if (!file.firstText("SELECT 1 FROM action WHERE id = ? AND kind = ?", [actionId, BROUGHT_IN])) return false
  const things = file.allText<{ thing: Thing }>(
    "SELECT thing FROM row_change WHERE action_id = ? AND before IS NULL GROUP BY thing ORDER BY max(id) DESC",
    [actionId],
  )
  for (const { thing } of things) {
    for (const change of doubtful(file, actionId, thing)) {
      const why = whyNot(now, actionId, change)
      if (why !== null) throw new Refusal(why, { status: 409 })
    }
    for (const part of kindOf(thing).parts.toReversed())
      file.runText(`DELETE FROM ${part.table} WHERE ${part.of} IN (${MADE_IDS})`, [actionId, thing])
  }
  return true
}

const MADE_IDS = "SELECT thing_id FROM row_change WHERE action_id = ? AND thing = ? AND before IS NULL"

/** Of many things that an action made, those that may not go: changed or pointed at since. */
function doubtful(file: StudioFile, actionId: number, thing: Thing): Change[] {
  const { parts } = kindOf(thing)
  const pointedAt = parts.flatMap((part) =>
    pointersTo(file, part.table)
      .filter(({ table }) => !parts.some((own) => own.table === table))
      .map(
        ({ table, column, to }) =>
          `OR c.thing_id IN (SELECT p.${part.of} FROM ${table} x JOIN ${part.table} p ON p.${to} = x.${column})`,
      ),
  )
  return file.allText<Change>(
    `SELECT c.thing, c.thing_id, c.before, c.after FROM row_change c
     WHERE c.action_id = ? AND c.thing = ? AND c.before IS NULL AND (
       EXISTS (SELECT 1 FROM row_change l WHERE l.thing = c.thing AND l.thing_id = c.thing_id AND l.action_id > c.action_id)
       OR c.after <> ${standingText(file, thing, "c.thing_id")} ${pointedAt.join(" ")})`,
    [actionId, thing],
  )
}

/** SQL: a thing as it stands, in the same words as `standing` gives it. */
function standingText(file: StudioFile, thing: Thing, id: string): string {
  const tables = kindOf(thing).parts.map((part) => {
    const columns = columnsOf(file, part.table).map((column) => `'${column}', t.${column}`)
    const order = keyOf(file, part).map((column) => `t.${column}`)
    return `'${part.table}', json((SELECT json_group_array(json_object(${columns.join(", ")}) ORDER BY ${order.join(", ")})
      FROM ${part.table} t WHERE t.${part.of} = ${id}))`
  })
  return `json_object(${tables.join(", ")})`
}

/**
 * Things that do not stand as the last action that wrote them down left them, as far as it was not undone: something
 * else has written to them since.
 */
export function leftOtherwise(file: StudioFile): { thing: Thing; id: number; summary: string }[] {
  const last = file.allText<{ thing: Thing; id: number; after: string | null; summary: string }>(
    `SELECT c.thing, c.thing_id AS id, c.after, a.summary FROM row_change c JOIN action a ON a.id = c.action_id
     WHERE c.id IN (
       SELECT max(l.id) FROM row_change l
       WHERE ${stands("l.action_id")} GROUP BY l.thing, l.thing_id)`,
  )
  return last.filter(({ thing, id, after }) => {
    const then = readStanding(after)
    return !sameAs(
      asEdited(file, thing, standing(file, thing, id), then),
      then && asEdited(file, thing, then, then),
    )
  })
}

/** A thing without what nobody edits: columns that follow from what was done with it, and rows learned since. */
function asEdited(
  file: StudioFile,
  thing: Thing,
  rows: Standing | null,
  then: Standing | null,
): Standing | null {
  if (rows === null || then === null) return rows
  const edited: Standing = { ...rows }
  for (const part of kindOf(thing).parts) {
    const found = rows[part.table]
    if (found === undefined) continue
    const known = part.learned ? knownIn(file, part, then) : () => true
    edited[part.table] = found.filter(known).map((row) => without(row, part.follows ?? []))
  }
  return edited
}

function knownIn(file: StudioFile, part: Part, then: Standing): (row: Row) => boolean {
  const key = keyOf(file, part)
  const keys = new Set((then[part.table] ?? []).map((row) => keyText(row, key)))
  return (row) => keys.has(keyText(row, key))
}

function without(row: Row, columns: readonly string[]): Row {
  return Object.fromEntries(Object.entries(row).filter(([column]) => !columns.includes(column)))
}

/** The sentence that refuses to put a thing back; null: nothing stands in the way. */
function whyNot(now: Act, actionId: number, change: Change): string | null {
  const { file } = now
  const later: Later = (why, behind) => {
    const told = toldOf(file, actionId, behind)
    if (told.length > 0)
      return `This cannot be undone while later work rests on it: ${why}. Undo first: ${told.join(", ")}.`
    // an action that was undone rests on nothing; one that nobody knows may
    return behind.some((one) => one.action_id === null) ? `This cannot be undone: ${why}.` : null
  }
  const since = file.allText<{ action_id: number }>(
    "SELECT action_id FROM row_change WHERE thing = ? AND thing_id = ? AND action_id > ?",
    [change.thing, change.thing_id, actionId],
  )
  const changedLater = later("it was changed after it", since)
  if (changedLater !== null) return changedLater

  const isNow = standing(file, change.thing, change.thing_id)
  const rows = {
    id: change.thing_id,
    now: isNow === null ? null : JSON.stringify(isNow),
    before: change.before,
  }
  for (const { why, actions } of kindOf(change.thing).rests ?? []) {
    const told = later(why, file.allText<Behind>(actions, namedIn(actions, rows)))
    if (told !== null) return told
  }
  if (!sameAs(isNow, readStanding(change.after)))
    return "It no longer stands as this left it, so it cannot be put back. Change it by hand instead."
  return pointedAt(file, change, later) ?? nameTaken(file, change)
}

/** Whether rows that would go are pointed at from outside the thing. */
function pointedAt(file: StudioFile, change: Change, later: Later): string | null {
  const { parts } = kindOf(change.thing)
  const before = readStanding(change.before)
  for (const part of parts) {
    const rows = rowsOf(file, part, change.thing_id)
    for (const row of going(rows, part, keyOf(file, part), before)) {
      for (const { table, column, to } of pointersTo(file, part.table)) {
        if (parts.some((own) => own.table === table)) continue
        const value = row[to] ?? null
        if (!file.firstText(`SELECT 1 FROM ${table} WHERE ${column} = ? LIMIT 1`, [value])) continue
        const behind = actionsBehind(table, column)
        const actions = behind === null ? [] : file.allText<Behind>(behind, [value])
        return later(useBy(table), actions) ?? `This cannot be undone: ${useBy(table)}.`
      }
    }
  }
  return null
}

/** Its old name may be another one's by now. */
function nameTaken(file: StudioFile, change: Change): string | null {
  const own = kindOf(change.thing).parts[0]?.table
  const name = own === undefined ? undefined : readStanding(change.before)?.[own]?.[0]?.name
  if (name === undefined || own === "studio") return null
  const other = file.firstText<{ name: string }>(
    `SELECT name FROM ${own} WHERE name = ? COLLATE NOCASE AND id <> ?`,
    [name, change.thing_id],
  )
  return other ? `This cannot be undone: another one is called “${other.name}” by now.` : null
}

/** Actions that still stand and are later than one, as the history tells them, the latest three. */
function toldOf(file: StudioFile, actionId: number, behind: readonly Behind[]): string[] {
  return file
    .allText<{ summary: string }>(
      `SELECT a.summary FROM action a WHERE a.id IN (SELECT value FROM json_each(?)) AND a.id > ?
         AND a.reverses_action_id IS NULL AND ${stands("a.id")}
       ORDER BY a.id DESC LIMIT 3`,
      [JSON.stringify(behind.map((one) => one.action_id)), actionId],
    )
    .map((action) => `“${action.summary}”`)
}

/** Puts the rows back one by one: rows that others point at are changed and not made anew. */
function putBack(file: StudioFile, change: Change): void {
  const { parts } = kindOf(change.thing)
  const before = readStanding(change.before)
  const found = new Map(parts.map((part) => [part, rowsOf(file, part, change.thing_id)]))
  for (const part of parts.toReversed()) {
    const key = keyOf(file, part)
    for (const row of going(found.get(part) ?? [], part, key, before))
      file.runText(`DELETE FROM ${part.table} WHERE ${equal(key)}`, valuesOf(row, key))
  }
  if (before === null) return
  for (const part of parts) {
    const key = keyOf(file, part)
    const wanted = before[part.table] ?? []
    const there = new Map((found.get(part) ?? []).map((row) => [keyText(row, key), row]))
    // a row that stands as it stood is left alone: a design's version that is in use lets nobody write to it
    const changes = wanted.filter((row) => {
      const standing = there.get(keyText(row, key))
      return standing !== undefined && !isDeepStrictEqual(standing, row)
    })
    // out of the way first: places are unique, and two may have changed them
    if (!key.includes("position") && wanted.some((row) => "position" in row)) {
      for (const row of changes)
        file.runText(
          `UPDATE ${part.table} SET position = position + 1000000 WHERE ${equal(key)}`,
          valuesOf(row, key),
        )
    }
    for (const row of changes) {
      const columns = Object.keys(row).filter((column) => !key.includes(column))
      if (columns.length === 0) continue
      file.runText(
        `UPDATE ${part.table} SET ${columns.map((column) => `${column} = ?`).join(", ")} WHERE ${equal(key)}`,
        valuesOf(row, [...columns, ...key]),
      )
    }
    for (const row of wanted.filter((one) => !there.has(keyText(one, key)))) {
      const columns = Object.keys(row)
      file.runText(
        `INSERT INTO ${part.table} (${columns.join(", ")}) VALUES (${columns.map(() => "?").join(", ")})`,
        valuesOf(row, columns),
      )
    }
  }
}

function standing(file: StudioFile, thing: Thing, id: number): Standing | null {
  const { parts } = kindOf(thing)
  const rows = Object.fromEntries(parts.map((part) => [part.table, rowsOf(file, part, id)]))
  return rows[parts[0]?.table ?? ""]?.length === 0 ? null : rows
}

function rowsOf(file: StudioFile, part: Part, id: number): Row[] {
  const key = keyOf(file, part)
  const rows = file.allText<Row>(
    `SELECT * FROM ${part.table} WHERE ${whereOf(part)} ORDER BY ${key.join(", ")}`,
    [id],
  )
  return part.key === undefined ? rows : rows.map(({ id: _id, ...row }) => row)
}

/**
 * Whether a thing stands as it was written down. A table or column that came with a later version of the program
 * is not looked at.
 */
function sameAs(isNow: Standing | null, then: Standing | null): boolean {
  if (isNow === null || then === null) return isNow === then
  return Object.entries(then).every(([table, rows]) => {
    const found = isNow[table] ?? []
    return (
      found.length === rows.length &&
      rows.every((row, index) =>
        Object.entries(row).every(([column, value]) => found[index]?.[column] === value),
      )
    )
  })
}

/** Rows of a part that were not there before; none where its table was never written down. */
function going(
  rows: readonly Row[],
  { table }: Part,
  key: readonly string[],
  before: Standing | null,
): Row[] {
  const kept = before === null ? [] : before[table]
  if (kept === undefined) return []
  const there = kept.map((row) => keyText(row, key))
  return rows.filter((row) => !there.includes(keyText(row, key)))
}

function keyText(row: Row, key: readonly string[]): string {
  return JSON.stringify(valuesOf(row, key))
}

function valuesOf(row: Row, columns: readonly string[]): Value[] {
  return columns.map((column) => row[column] ?? null)
}

function equal(columns: readonly string[]): string {
  return columns.map((column) => `${column} = ?`).join(" AND ")
}

function readStanding(text: string | null): Standing | null {
  return text === null ? null : (JSON.parse(text) as Standing)
}

/** Only the values that a query names. */
function namedIn(query: string, values: Record<string, Value>): Record<string, Value> {
  return Object.fromEntries(Object.entries(values).filter(([name]) => query.includes(`:${name}`)))
}
