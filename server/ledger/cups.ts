import type { CupState } from "../../db/tables.ts"
import type { Working } from "../domain/plan.ts"
import type { Room } from "../domain/room.ts"
import { cupSerial, mixCode } from "../domain/studio-code.ts"
import { type Act, nextId } from "./act.ts"
import { stands } from "./stands.ts"

/** Starts a batch: its cups get their serials, and its design version is frozen. */
export function startBatch(
  act: Act,
  batch: { versionId: number; cups: number; note: string },
): { batchId: number; cups: { id: number; serial: string }[] } {
  const { file } = act
  const batchId = addBatch(act, batch)
  file.runText("UPDATE design_version SET frozen = 1 WHERE id = ? AND frozen = 0", [batch.versionId])
  const cups = Array.from({ length: batch.cups }, () => {
    const serial = cupSerial(nextId(file, "cup"))
    const id = file.insert("cup", { serial, batch_id: batchId, state: null, order_line_id: null })
    changeCup(act, id, { state: "in work" })
    return { id, serial }
  })
  return { batchId, cups }
}

/** A batch without cups yet. @returns its id */
export function addBatch(act: Act, batch: { versionId: number; note: string }): number {
  return act.file.insert("batch", {
    action_id: act.actionId,
    version_id: batch.versionId,
    note: batch.note,
  })
}

/** A cup goes on in another batch; what it has on it stays with the batch in which that was put on. */
export function moveCup(act: Act, cupId: number, toBatchId: number): void {
  const cup = act.file.firstText<{ batch_id: number }>("SELECT batch_id FROM cup WHERE id = ?", [cupId])
  if (!cup) throw new RangeError(`there is no cup ${cupId}`)
  act.file.insert("cup_move", {
    action_id: act.actionId,
    cup_id: cupId,
    from_batch_id: cup.batch_id,
    to_batch_id: toBatchId,
  })
  act.file.runText("UPDATE cup SET batch_id = ? WHERE id = ?", [toBatchId, cupId])
}

/** Changes a cup's state, or the order line it is for (null: free again). */
export function changeCup(
  act: Act,
  cupId: number,
  change: { state?: CupState; orderLineId?: number | null },
): void {
  const { state, orderLineId } = change
  act.file.insert("cup_change", {
    action_id: act.actionId,
    cup_id: cupId,
    state: state ?? null,
    order_line_id: orderLineId === undefined ? null : (orderLineId ?? 0),
  })
  if (state !== undefined) act.file.runText("UPDATE cup SET state = ? WHERE id = ?", [state, cupId])
  if (orderLineId !== undefined) {
    act.file.runText("UPDATE cup SET order_line_id = ? WHERE id = ?", [orderLineId, cupId])
  }
}

/** Works a cup's state, order line and batch out again from the changes that still stand. */
export function refreshCup(act: Act, cupId: number): void {
  const last = <T>(column: "state" | "order_line_id") =>
    act.file.firstText<{ value: T }>(
      `SELECT c.${column} AS value FROM cup_change c WHERE c.cup_id = ? AND c.${column} IS NOT NULL
         AND ${stands("c.action_id")}
       ORDER BY c.id DESC LIMIT 1`,
      [cupId],
    )?.value
  act.file.runText("UPDATE cup SET state = ?, order_line_id = ? WHERE id = ?", [
    last<CupState>("state") ?? null,
    last<number>("order_line_id") || null,
    cupId,
  ])
  const moves = act.file.allText<{ from_batch_id: number; to_batch_id: number; stands: number }>(
    `SELECT from_batch_id, to_batch_id,
       ${stands("m.action_id")} AS stands
     FROM cup_move m WHERE cup_id = ? ORDER BY id`,
    [cupId],
  )
  const [first] = moves
  if (!first) return
  const batchId = moves.findLast(({ stands }) => stands === 1)?.to_batch_id ?? first.from_batch_id
  act.file.runText("UPDATE cup SET batch_id = ? WHERE id = ?", [batchId, cupId])
}

/** A cup's layers from a position on came off. */
export function addStrip(act: Act, cupId: number, fromPosition: number): void {
  act.file.insert("strip", { action_id: act.actionId, cup_id: cupId, from_position: fromPosition })
}

/** A mix as it was poured. Parts in each part's own base unit. */
export interface MixFacts {
  resinSystemId: number
  plannedA: number
  plannedB: number
  actualA: number
  actualB: number
  residueUl: number
}

/** A coat as it is written. Amounts of supplies in their base units. */
export interface CoatFacts {
  batchId: number
  layerId: number
  cupIds: readonly number[]
  workings: readonly Working[]
  insisted: boolean
  /** what it was to take, each supply once */
  planned?: ReadonlyMap<number, number>
  /** what it took by measure, each supply once */
  measured?: ReadonlyMap<number, { amount: number; basis: "weighed" | "measured" }>
  mix?: MixFacts
  /** found left in the mixing cup, µL */
  leftUl?: number | null
  /** minutes a cup of the scuffing that this coat's draws were for */
  scuffMin?: number | null
  /** as it was said; left out or null: not said */
  room?: Room | null
}

/** Writes one coat: a layer applied in one go to some cups. Its movements name it by the id. */
export function addCoat(act: Act, coat: CoatFacts): number {
  const { file } = act
  const coatId = file.insert("coat", {
    action_id: act.actionId,
    batch_id: coat.batchId,
    layer_id: coat.layerId,
    workings: JSON.stringify(coat.workings),
    insisted: coat.insisted ? 1 : 0,
    scuff_min: coat.scuffMin ?? null,
    room_celsius_tenths: coat.room?.celsiusTenths ?? null,
    room_humidity_percent: coat.room?.humidityPercent ?? null,
  })
  for (const cupId of coat.cupIds) file.insert("coat_cup", { coat_id: coatId, cup_id: cupId })
  for (const [supplyId, planned] of coat.planned ?? [])
    file.insert("coat_plan", { coat_id: coatId, supply_id: supplyId, planned })
  for (const [supplyId, { amount, basis }] of coat.measured ?? [])
    addMeasured(act, coatId, supplyId, amount, basis)
  if (coat.mix) {
    file.insert("mix", {
      code: mixCode(nextId(file, "mix")),
      coat_id: coatId,
      resin_system_id: coat.mix.resinSystemId,
      planned_a: coat.mix.plannedA,
      planned_b: coat.mix.plannedB,
      actual_a: coat.mix.actualA,
      actual_b: coat.mix.actualB,
      residue_ul: coat.mix.residueUl,
    })
  }
  if (coat.leftUl !== undefined && coat.leftUl !== null) addMixLeft(act, coatId, coat.leftUl)
  return coatId
}

/** What a coat took of a supply, by measure, in all. */
export function addMeasured(
  act: Act,
  coatId: number,
  supplyId: number,
  amount: number,
  basis: "weighed" | "measured",
): void {
  act.file.insert("coat_actual", {
    action_id: act.actionId,
    coat_id: coatId,
    supply_id: supplyId,
    amount,
    basis,
  })
}

/** What was found left in the mixing cup of a coat, µL. */
export function addMixLeft(act: Act, coatId: number, leftUl: number): void {
  act.file.insert("mix_left", { action_id: act.actionId, coat_id: coatId, left_ul: leftUl })
}
