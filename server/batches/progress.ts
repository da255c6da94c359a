import type { CupState } from "../../db/tables.ts"
import { planOf } from "../designs/service.ts"
import { isEarly, type RecoatWindow, recoatWindow } from "../domain/after-layer.ts"
import type { IsoDate } from "../domain/dates.ts"
import { isResin } from "../domain/layers.ts"
import type { Layer, Plan, ResinSystem } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Room } from "../domain/room.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { resinSystems } from "../supplies/service.ts"
import { planOfBatch } from "./batch-plan.ts"

/** A cup of a batch and how far it is. */
export interface CupProgress {
  id: number
  serial: string
  state: CupState
  /** the highest layer it has, 0 for none */
  layersDone: number
  /** when its highest layer was last put on; null while it has none */
  coatedAt: string | null
  /** when the next coat may and must go on it, by what that layer was mixed from; null while it has none */
  recoat: RecoatWindow | null
  /** the blank was taken from the shelf for it: so it is once, however often its layers come off again */
  hasBlank: boolean
  orderLineId: number | null
}

/** A batch: its plan, its cups, and the layer that comes next for the cups that are least far. */
export interface BatchProgress {
  id: number
  startedOn: IsoDate
  note: string
  /** as it is made from now on; layers that are on may have been made with others */
  plan: Plan
  cups: CupProgress[]
  next: { layer: Layer; cups: CupProgress[] } | null
  /** of each layer that cups have now, by position */
  doneAt: Map<number, LayerDone>
  /** positions of layers that were done for some cup: what is used once a batch is used up for them */
  begun: Set<number>
}

/** A layer that cups have now. */
export interface LayerDone {
  /** when and in what room it was last put on */
  at: string
  room: Room
  /** how many have it */
  cups: number
  /** instants of its coats on the cup that has the most of them, and how many cups have as many */
  coats: readonly string[]
  cupsWithAll: number
  /** on how many it went on before the layer under it allowed it */
  early: number
}

/** A batch that has cups in work, for lists. */
export interface OpenBatch {
  id: number
  design: string
  startedOn: IsoDate
  inWork: number
  cups: number
  layersDone: number
  layers: number
}

/**
 * Where a batch stands. Cups whose start was undone are left out.
 *
 * @throws {Refusal} no such batch
 */
export function batchProgress(studio: Studio, batchId: number): BatchProgress {
  const { file } = studio
  const batch = file.firstText<{ id: number; version_id: number; note: string; happened_on: string }>(
    "SELECT b.id, b.version_id, b.note, a.happened_on FROM batch b JOIN action a ON a.id = b.action_id WHERE b.id = ?",
    [batchId],
  )
  if (!batch) throw new Refusal("There is no such batch.", { status: 404 })
  const design = planOf(studio, batch.version_id)
  const plan = planOfBatch(studio, batchId, design)
  const { has, begun, recoatAfter } = layersOfCups(studio, batchId, design)
  const cups = file
    .allText<{ id: number; serial: string; state: CupState; order_line_id: number | null }>(
      "SELECT id, serial, state, order_line_id FROM cup WHERE batch_id = ? AND state IS NOT NULL ORDER BY id",
      [batchId],
    )
    .map((cup) => {
      const layersDone = Math.max(0, ...(has.get(cup.id)?.keys() ?? []))
      return {
        id: cup.id,
        serial: cup.serial,
        state: cup.state,
        layersDone,
        coatedAt: has.get(cup.id)?.get(layersDone)?.at ?? null,
        recoat: recoatAfter(cup.id, layersDone),
        hasBlank: has.has(cup.id),
        orderLineId: cup.order_line_id,
      }
    })
  return {
    id: batch.id,
    startedOn: batch.happened_on,
    note: batch.note,
    plan,
    cups,
    next: nextOf(plan, cups),
    doneAt: lastDone(cups.map((cup) => has.get(cup.id) ?? new Map())),
    begun,
  }
}

/**
 * What layers each cup has now, and when it got them: what was undone does not count, and stripping takes layers
 * off again.
 *
 * @param design without what is taken in place of its own: each layer is as it was mixed
 */
function layersOfCups(studio: Studio, batchId: number, design: Plan) {
  const windowOf = windows(studio, design)
  const has = new Map<number, Map<number, OnCup>>()
  const begun = new Set<number>()
  for (const row of studio.file.allText<CoatRow & { cup_id: number; strips: number }>(
    `SELECT cc.cup_id, l.position, a.happened_at AS at, 0 AS strips, a.id AS action_id,
       c.room_celsius_tenths AS celsiusTenths, c.room_humidity_percent AS humidityPercent, x.resin_system_id AS system_id
     FROM cup u JOIN coat_cup cc ON cc.cup_id = u.id JOIN coat c ON c.id = cc.coat_id
       JOIN action a ON a.id = c.action_id JOIN layer l ON l.id = c.layer_id LEFT JOIN mix x ON x.coat_id = c.id
     WHERE u.batch_id = :batch AND ${stands("a.id")}
     UNION ALL
     SELECT s.cup_id, s.from_position, a.happened_at, 1, a.id, NULL, NULL, NULL
     FROM strip s JOIN cup u ON u.id = s.cup_id JOIN action a ON a.id = s.action_id
     WHERE u.batch_id = :batch AND ${stands("a.id")}
     ORDER BY action_id`,
    { batch: batchId },
  )) {
    const mine = has.get(row.cup_id) ?? new Map<number, OnCup>()
    has.set(row.cup_id, mine)
    if (row.strips === 0) {
      coated(windowOf, mine, row)
      begun.add(row.position)
      continue
    }
    for (const position of mine.keys()) if (position >= row.position) mine.delete(position)
  }
  // what was used once a batch is used up for it, even when the cups went on in another
  for (const { position } of studio.file.allText<{ position: number }>(
    `SELECT DISTINCT l.position FROM coat c JOIN layer l ON l.id = c.layer_id
     WHERE c.batch_id = ? AND ${stands("c.action_id")}`,
    [batchId],
  ))
    begun.add(position)
  const recoatAfter = (cupId: number, position: number) => {
    const top = has.get(cupId)?.get(position)
    return top ? windowOf(position, top.systemIds) : null
  }
  return { has, begun, recoatAfter }
}

/** A coat of one layer on one cup. */
interface CoatRow extends Room {
  position: number
  at: string
  action_id: number
  /** what it was mixed from; null: nothing was mixed */
  system_id: number | null
}

type WindowOf = (position: number, systemIds: ReadonlySet<number>) => RecoatWindow | null

/** When the next coat may and must go on over a layer of a design, by the resins it was really mixed from. */
function windows(studio: Studio, { layers }: Plan): WindowOf {
  const systems = new Map<number, ResinSystem>(
    layers.flatMap(({ uses }) => uses.filter(isResin).map(({ system }) => [system.id, system])),
  )
  return (position, systemIds) => {
    const layer = layers.find((one) => one.position === position)
    if (!layer) return null
    // one that stood in for the design's own
    if ([...systemIds].some((id) => !systems.has(id)))
      for (const system of resinSystems(studio)) systems.set(system.id, system)
    return recoatWindow(
      layer,
      [...systemIds].map((id) => systems.get(id)!),
    )
  }
}

/** A layer as one cup has it. */
interface OnCup {
  /** its last coat */
  at: string
  room: Room
  /** what that was mixed from */
  systemIds: ReadonlySet<number>
  actionId: number
  /** instants of its coats */
  coats: string[]
  early: boolean
}

/** Puts a coat on a cup. What is written in one action is one coat, however many mixes it was made from. */
function coated(windowOf: WindowOf, mine: Map<number, OnCup>, row: CoatRow): void {
  const { position, at, action_id: actionId, celsiusTenths, humidityPercent } = row
  const room = { celsiusTenths, humidityPercent }
  const systemIds = new Set(row.system_id === null ? [] : [row.system_id])
  const known = mine.get(position)
  if (known?.actionId === actionId) {
    mine.set(position, { ...known, at, room, systemIds: new Set([...known.systemIds, ...systemIds]) })
    return
  }
  const top = Math.max(...mine.keys())
  const last = mine.get(top)
  const under = last && windowOf(top, last.systemIds)
  // layers that were written down at once say nothing of the time between them
  const early =
    last !== undefined && last.actionId !== actionId && under != null && isEarly(under, last.at, at)
  mine.set(position, {
    at,
    room,
    systemIds,
    actionId,
    coats: [...(known?.coats ?? []), at],
    early: early || (known?.early ?? false),
  })
}

function lastDone(cups: readonly ReadonlyMap<number, OnCup>[]): BatchProgress["doneAt"] {
  const done: BatchProgress["doneAt"] = new Map()
  for (const layers of cups) {
    for (const [position, mine] of layers) {
      const known = done.get(position)
      const { at, room } = known && known.at > mine.at ? known : mine
      const most = known && known.coats.length > mine.coats.length ? known.coats : mine.coats
      const before = known?.coats.length === most.length ? known.cupsWithAll : 0
      done.set(position, {
        at,
        room,
        cups: (known?.cups ?? 0) + 1,
        coats: most,
        cupsWithAll: before + (mine.coats.length === most.length ? 1 : 0),
        early: (known?.early ?? 0) + (mine.early ? 1 : 0),
      })
    }
  }
  return done
}

function nextOf(plan: Plan, cups: readonly CupProgress[]): BatchProgress["next"] {
  const inWork = cups.filter((cup) => cup.state === "in work")
  if (inWork.length === 0) return null
  const least = Math.min(...inWork.map((cup) => cup.layersDone))
  const layer = plan.layers.find((candidate) => candidate.position === least + 1)
  return layer ? { layer, cups: inWork.filter((cup) => cup.layersDone === least) } : null
}

/** Batches with cups in work, the oldest first. */
export function openBatches(studio: Studio): OpenBatch[] {
  const rows = studio.file.allText<{ id: number }>(
    "SELECT DISTINCT batch_id AS id FROM cup WHERE state = 'in work' ORDER BY batch_id",
  )
  return rows.map(({ id }) => {
    const batch = batchProgress(studio, id)
    const inWork = batch.cups.filter((cup) => cup.state === "in work")
    return {
      id,
      design: batch.plan.designName,
      startedOn: batch.startedOn,
      inWork: inWork.length,
      cups: batch.cups.length,
      layersDone: Math.min(...inWork.map((cup) => cup.layersDone)),
      layers: batch.plan.layers.length,
    }
  })
}

/** Batches that are finished or scrapped, the newest first. */
export function pastBatches(
  studio: Studio,
  limit: number,
): { id: number; design: string; startedOn: IsoDate; cups: number; good: number; scrapped: number }[] {
  return studio.file.allText(
    `SELECT b.id, d.name AS design, a.happened_on AS startedOn, count(c.id) AS cups,
       sum(c.state IN ('good', 'sent', 'returned')) AS good, sum(c.state = 'scrapped') AS scrapped
     FROM batch b JOIN action a ON a.id = b.action_id JOIN design_version v ON v.id = b.version_id
       JOIN design d ON d.id = v.design_id JOIN cup c ON c.batch_id = b.id AND c.state IS NOT NULL
     GROUP BY b.id HAVING sum(c.state = 'in work') = 0 ORDER BY b.id DESC LIMIT ?`,
    [limit],
  )
}
