import type { StudioFile } from "../../db/file.ts"
import type { BaseUnit } from "../../db/tables.ts"
import { dateAt, type IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Actor, Done } from "../ledger/act.ts"
import { reverse } from "../ledger/reverse.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { ACTIONS_OF, NAME_OF, type ThingWithHistory } from "./of-thing.ts"

/** One thing that was done, as the history tells it. */
export interface Entry {
  actionId: number
  kind: string
  summary: string
  happenedAt: string
  happenedOn: IsoDate
  recordedAt: string
  recordedOn: IsoDate
  /** written down on another day, or well after it happened */
  recordedLater: boolean
  device: string
  reason: string
  /** the undo that took it back */
  undoneBy: { actionId: number; on: IsoDate; at: string; device: string; reason: string } | null
  /** it is itself an undo: the action it took back */
  undoes: number | null
  /** whether it can be undone now; why not, unless it is undone already or an undo itself */
  undo: { possible: boolean; why: string | null }
}

/** What an action did to one container. */
export interface ContainerEntry extends Entry {
  /** in base units, signed; 0 where no amount changed */
  amount: number
  baseUnit: BaseUnit
}

export interface HistoryPage {
  entries: Entry[]
  page: number
  pages: number
  total: number
}

interface Row {
  id: number
  kind: string
  summary: string
  happened_at: string
  happened_on: IsoDate
  recorded_at: string
  device: string
  reason: string
  reverses_action_id: number | null
  undone_id: number | null
  undone_at: string | null
  undone_on: IsoDate | null
  undone_device: string | null
  undone_reason: string | null
}

const A_PAGE = 25
/** Sooner than this after it happened counts as written down at once. */
const AT_ONCE_MS = 15 * 60_000

const ENTRY = `a.id, a.kind, a.summary, a.happened_at, a.happened_on, a.recorded_at, a.device, a.reason,
    a.reverses_action_id, u.id AS undone_id, u.happened_at AS undone_at, u.happened_on AS undone_on, u.device AS undone_device, u.reason AS undone_reason`

/**
 * A page of what was done, newest first by when it was recorded.
 *
 * @param page from 1; past the end gives the last
 */
export function history(studio: Studio, page: number): HistoryPage {
  const { file } = studio
  const total = file.firstText<{ n: number }>("SELECT count(*) AS n FROM action")?.n ?? 0
  const pages = Math.max(1, Math.ceil(total / A_PAGE))
  const shown = Math.min(Math.max(1, page), pages)
  const rows = file.allText<Row>(
    `SELECT ${ENTRY} FROM action a LEFT JOIN action u ON u.reverses_action_id = a.id
     ORDER BY a.id DESC LIMIT ? OFFSET ?`,
    [A_PAGE, (shown - 1) * A_PAGE],
  )
  const { timeZone } = settingsOf(studio)
  return { entries: rows.map((row) => entryOf(studio, row, timeZone)), page: shown, pages, total }
}

/**
 * What was done to one container, newest first, with the amount each action put in or took out.
 *
 * @param limit at most so many
 */
export function historyOfContainer(studio: Studio, containerId: number, limit: number): ContainerEntry[] {
  const { timeZone } = settingsOf(studio)
  return studio.file
    .allText<Row & { amount: number; base_unit: BaseUnit }>(
      `WITH done (id) AS (${ACTIONS_OF.container})
       SELECT ${ENTRY}, s.base_unit,
         coalesce((SELECT sum(m.amount) FROM movement m WHERE m.action_id = a.id AND m.container_id = c.id), 0) AS amount
       FROM container c JOIN supply s ON s.id = c.supply_id
       JOIN action a ON a.id IN (SELECT id FROM done) OR a.reverses_action_id IN (SELECT id FROM done)
       LEFT JOIN action u ON u.reverses_action_id = a.id
       WHERE c.id = :id ORDER BY a.id DESC LIMIT :limit`,
      { id: containerId, limit },
    )
    .map((row) => ({ ...entryOf(studio, row, timeZone), amount: row.amount, baseUnit: row.base_unit }))
}

/** A page of what was done with one thing, newest first, what was undone and its undoing included. */
export interface ThingHistory extends HistoryPage {
  name: string
  /** the thing's own page */
  to: string
}

/**
 * All that was done with one thing, a page at a time.
 *
 * @param page from 1; past the end gives the last
 * @throws {Refusal} no such thing
 */
export function historyOf(studio: Studio, kind: ThingWithHistory, id: number, page: number): ThingHistory {
  const { file } = studio
  const thing = file.firstText<{ name: string }>(NAME_OF[kind].name, { id })
  if (!thing) throw new Refusal("There is no such thing.", { status: 404 })
  const done = `WITH done (id) AS (${ACTIONS_OF[kind]})`
  const which = "a.id IN (SELECT id FROM done) OR a.reverses_action_id IN (SELECT id FROM done)"
  const total =
    file.firstText<{ n: number }>(`${done} SELECT count(*) AS n FROM action a WHERE ${which}`, { id })?.n ?? 0
  const pages = Math.max(1, Math.ceil(total / A_PAGE))
  const shown = Math.min(Math.max(1, page), pages)
  const rows = file.allText<Row>(
    `${done} SELECT ${ENTRY} FROM action a LEFT JOIN action u ON u.reverses_action_id = a.id
     WHERE ${which} ORDER BY a.id DESC LIMIT :limit OFFSET :offset`,
    { id, limit: A_PAGE, offset: (shown - 1) * A_PAGE },
  )
  const { timeZone } = settingsOf(studio)
  const entries = rows.map((row) => entryOf(studio, row, timeZone))
  return { name: thing.name, to: NAME_OF[kind].page(id, thing.name), entries, page: shown, pages, total }
}

/**
 * Undoes an action.
 *
 * @returns what was undone, in the words it was told in
 * @throws {Refusal} no such action, undone before, itself an undo, or what must be undone first
 */
export function undo(studio: Studio, by: Actor, actionId: number): Done<{ undone: string }> {
  return reverse(studio, by, actionId)
}

function entryOf(studio: Studio, row: Row, timeZone: string): Entry {
  const recordedOn = dateAt(row.recorded_at, timeZone)
  const later = Date.parse(row.recorded_at) - Date.parse(row.happened_at) > AT_ONCE_MS
  return {
    actionId: row.id,
    kind: row.kind,
    summary: row.summary,
    happenedAt: row.happened_at,
    happenedOn: row.happened_on,
    recordedAt: row.recorded_at,
    recordedOn,
    recordedLater: later || recordedOn !== row.happened_on,
    device: row.device,
    reason: row.reason,
    undoneBy:
      row.undone_id === null
        ? null
        : {
            actionId: row.undone_id,
            on: row.undone_on ?? recordedOn,
            at: row.undone_at ?? row.recorded_at,
            device: row.undone_device ?? "",
            reason: row.undone_reason ?? "",
          },
    undoes: row.reverses_action_id,
    undo:
      row.undone_id !== null || row.reverses_action_id !== null
        ? { possible: false, why: null }
        : tryUndo(studio, row.id),
  }
}

const LONG = 1_000

function isLong(file: StudioFile, actionId: number): boolean {
  const wrote = (table: string) =>
    file.firstText(`SELECT 1 FROM ${table} WHERE action_id = ? LIMIT 1 OFFSET ${LONG}`, [actionId]) !==
    undefined
  return wrote("row_change") || wrote("movement")
}

/** Thrown to take a trial back. */
class OnlyATrial extends Error {}

/**
 * Whether an action could be undone now. The ledger alone knows, so it is asked to do it, and all of that is
 * rolled back: the page never offers an undo that would be refused, and says what stands in the way.
 */
function tryUndo({ file, now }: { file: StudioFile; now: Studio["now"] }, actionId: number): Entry["undo"] {
  if (file.busy() !== null) return { possible: false, why: "A file is being brought in right now." }
  // a long file that was brought in is not tried at every look at the page: it says so when it is asked
  if (isLong(file, actionId)) return { possible: true, why: null }
  try {
    file.transaction(() => {
      reverse({ file, now }, { device: "trial", key: `trial-of-undo-${actionId}` }, actionId)
      throw new OnlyATrial()
    })
  } catch (error) {
    if (error instanceof OnlyATrial) return { possible: true, why: null }
    if (error instanceof Refusal) return { possible: false, why: error.message }
    throw error
  }
  throw new Error("a trial is always rolled back")
}
