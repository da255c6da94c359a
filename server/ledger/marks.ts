import type { MarkKind } from "../../db/tables.ts"
import type { Act } from "./act.ts"
import { containerById, openIfSealed } from "./move.ts"
import { stands } from "./stands.ts"

/** Opens a container now; nothing happens to one that is open. @returns whether it was sealed */
export function markOpened(act: Act, containerId: number): boolean {
  const container = containerById(act, containerId)
  openIfSealed(act, container)
  return container.opened_at === null
}

/** Holds a container (never proposed again) or releases it. */
export function markContainer(act: Act, containerId: number, kind: Exclude<MarkKind, "opened">): void {
  act.file.insert("mark", { action_id: act.actionId, kind, container_id: containerId, lot_id: null })
  const value = kind === "held" || kind === "benched" ? 1 : 0
  const column = kind === "held" || kind === "released" ? "held" : "on_bench"
  act.file.runText(`UPDATE container SET ${column} = ? WHERE id = ?`, [value, containerId])
}

/** Puts a container on the bench in place of the other of its supply that was there. */
export function putOnBench(act: Act, containerId: number): void {
  const { supply_id } = containerById(act, containerId)
  const others = act.file.allText<{ id: number }>(
    "SELECT id FROM container WHERE supply_id = ? AND on_bench = 1 AND id <> ?",
    [supply_id, containerId],
  )
  for (const other of others) markContainer(act, other.id, "unbenched")
  markContainer(act, containerId, "benched")
}

/** Holds every bottle of a lot, or releases them. */
export function markLot(act: Act, lotId: number, kind: "held" | "released"): void {
  act.file.insert("mark", { action_id: act.actionId, kind, container_id: null, lot_id: lotId })
  act.file.runText("UPDATE lot SET held = ? WHERE id = ?", [kind === "held" ? 1 : 0, lotId])
}

/**
 * Works a container's opened and held state out again from what still stands: its marks, and for opened also its
 * uses, since a bottle that was poured from is open whatever became of the mark.
 */
export function refreshContainer(act: Act, containerId: number): void {
  const { file } = act
  const opened = file.firstText<{ happened_at: string; happened_on: string }>(
    `SELECT a.happened_at, a.happened_on FROM (
       SELECT action_id FROM mark WHERE container_id = :id AND kind = 'opened'
       UNION SELECT action_id FROM movement WHERE container_id = :id AND kind IN ('use', 'transfer')
     ) o JOIN action a ON a.id = o.action_id WHERE ${stands("a.id")} ORDER BY a.happened_at LIMIT 1`,
    { id: containerId },
  )
  const last = file.firstText<{ kind: MarkKind }>(
    `SELECT m.kind FROM mark m JOIN action a ON a.id = m.action_id
     WHERE m.container_id = ? AND m.kind IN ('held', 'released') AND ${stands("a.id")} ORDER BY m.id DESC LIMIT 1`,
    [containerId],
  )
  file.runText("UPDATE container SET opened_at = ?, opened_on = ?, held = ? WHERE id = ?", [
    opened?.happened_at ?? null,
    opened?.happened_on ?? null,
    last?.kind === "held" ? 1 : 0,
    containerId,
  ])
}

/**
 * Works out again which container of a supply is on the bench: the one that was put there last, unless it was
 * taken off since.
 */
export function refreshBench(act: Act, supplyId: number): void {
  const last = act.file.firstText<{ container_id: number; taken_off: number }>(
    `SELECT m.container_id, EXISTS (
         SELECT 1 FROM mark o JOIN action a ON a.id = o.action_id
         WHERE o.container_id = m.container_id AND o.kind = 'unbenched' AND o.id > m.id AND ${stands("a.id")}) AS taken_off
     FROM container c JOIN mark m ON m.container_id = c.id JOIN action a ON a.id = m.action_id
     WHERE c.supply_id = ? AND m.kind = 'benched' AND ${stands("a.id")} ORDER BY m.id DESC LIMIT 1`,
    [supplyId],
  )
  const onBench = last?.taken_off === 0 ? last.container_id : 0
  act.file.runText(
    "UPDATE container SET on_bench = (id = :onBench) WHERE supply_id = :supplyId AND on_bench <> (id = :onBench)",
    {
      onBench,
      supplyId,
    },
  )
}

/** The same for a lot's hold. */
export function refreshLot(act: Act, lotId: number): void {
  const last = act.file.firstText<{ kind: MarkKind }>(
    `SELECT m.kind FROM mark m JOIN action a ON a.id = m.action_id
     WHERE m.lot_id = ? AND ${stands("a.id")} ORDER BY m.id DESC LIMIT 1`,
    [lotId],
  )
  act.file.runText("UPDATE lot SET held = ? WHERE id = ?", [last?.kind === "held" ? 1 : 0, lotId])
}
