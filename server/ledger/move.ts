import type { MarkKind, MovementBasis, MovementKind } from "../../db/tables.ts"
import { withdrawCost } from "../domain/money.ts"
import { Refusal } from "../domain/refusal.ts"
import { formatAmount } from "../domain/units.ts"
import type { Act } from "./act.ts"
import { stands } from "./stands.ts"

/** A container as the ledger sees it while it writes. */
export interface LedgerContainer {
  id: number
  code: string
  supply_id: number
  supply: string
  base_unit: "uL" | "mg" | "um" | "mm2" | "each"
  lot_id: number
  amount_left: number
  cost_left_micro: number
  opened_at: string | null
  opened_on: string | null
  /** the day of its delivery, or on which it was filled from another; null: it is being filled now */
  received_on: string | null
  on_bench: number
}

/** SQL: the day container c came, from its delivery d or from what it was filled with. */
export const CAME_ON = `coalesce(d.received_on, (SELECT a.happened_on FROM movement m JOIN action a ON a.id = m.action_id
    WHERE m.container_id = c.id ORDER BY m.id LIMIT 1))`

const CONTAINER = `SELECT c.id, c.code, c.supply_id, s.name AS supply, s.base_unit, c.lot_id, c.amount_left,
    c.cost_left_micro, c.opened_at, c.opened_on, c.on_bench,
    ${CAME_ON} AS received_on
  FROM container c JOIN supply s ON s.id = c.supply_id
  LEFT JOIN receipt_line r ON r.id = c.receipt_line_id LEFT JOIN delivery d ON d.id = r.delivery_id
  WHERE c.id = ?`

const FILLING_UNDONE = `SELECT 1 FROM movement WHERE reverses_movement_id =
  (SELECT id FROM movement WHERE container_id = ? ORDER BY id LIMIT 1)`

/**
 * The container with that id.
 *
 * @throws {Refusal} there is none, or what filled it was undone: then it never came, and nothing is done with it
 */
export function containerById(act: Act, id: number): LedgerContainer {
  const found = act.file.firstText<LedgerContainer>(CONTAINER, [id])
  if (!found) throw new Refusal("That container is not on the shelf. Choose another.", { status: 404 })
  if (found.amount_left === 0 && act.file.firstText(FILLING_UNDONE, [id])) {
    throw new Refusal(
      `${found.code} (${found.supply}) is not on the shelf: taking it in was undone. Take it in again first.`,
      { status: 409 },
    )
  }
  return found
}

/** What one movement is, beside its container and amount. */
export interface MovementFacts {
  kind: Exclude<MovementKind, "reverse" | "transfer">
  basis: MovementBasis
  coatId?: number
  /** of a gain: what the amount cost; nothing for a counted gain */
  costMicro?: number
}

/**
 * Writes one signed change of one container's amount. A withdrawal takes its part of the container's cost along,
 * and opens the container if it was sealed.
 *
 * @param amount in the supply's base unit, not zero
 * @returns the movement's id
 * @throws {Refusal} more than is left; before the container came
 */
export function move(act: Act, containerId: number, amount: number, facts: MovementFacts): number {
  const container = containerById(act, containerId)
  refuseBeforeArrival(act, container)
  if (amount < 0) {
    refuseMoreThanLeft(act, container, -amount)
    if (facts.kind === "use") openIfSealed(act, container)
  }
  if (-amount === container.amount_left) leaveBench(act, container)
  return act.file.insert("movement", {
    action_id: act.actionId,
    container_id: container.id,
    kind: facts.kind,
    amount,
    cost_micro: amount < 0 ? -costOf(container, -amount) : (facts.costMicro ?? 0),
    basis: facts.basis,
    coat_id: facts.coatId ?? null,
    source_container_id: null,
    reverses_movement_id: null,
  })
}

/**
 * Pours from one container into another of the same supply. Both count as opened; the lots of the first, and
 * the day by which they are to be used, are from now on in the second too.
 *
 * @throws {Refusal} the same container, another supply, more than is left
 */
export function transfer(
  act: Act,
  fromId: number,
  toId: number,
  amount: number,
  basis: MovementBasis,
  fromUseBy: string | null,
): void {
  const from = containerById(act, fromId)
  const to = containerById(act, toId)
  if (from.id === to.id)
    throw new Refusal("A container cannot be filled from itself. Choose another.", { field: "from" })
  if (from.supply_id !== to.supply_id) {
    throw new Refusal(
      `${from.code} holds ${from.supply} and ${to.code} holds ${to.supply}. Only the same supply goes together.`,
      {
        field: "from",
      },
    )
  }
  refuseBeforeArrival(act, from)
  refuseBeforeArrival(act, to)
  refuseMoreThanLeft(act, from, amount)
  openIfSealed(act, from)
  openIfSealed(act, to)
  if (amount === from.amount_left) leaveBench(act, from)
  const cost = costOf(from, amount)
  const leg = {
    action_id: act.actionId,
    kind: "transfer",
    basis,
    coat_id: null,
    reverses_movement_id: null,
  } as const
  act.file.insert("movement", {
    ...leg,
    container_id: from.id,
    amount: -amount,
    cost_micro: -cost,
    source_container_id: null,
  })
  const gain = act.file.insert("movement", {
    ...leg,
    container_id: to.id,
    amount,
    cost_micro: cost,
    source_container_id: from.id,
  })
  for (const lotId of lotsIn(act, from.id)) {
    act.file.insert("container_lot", {
      container_id: to.id,
      lot_id: lotId,
      movement_id: gain,
      use_by: fromUseBy,
    })
  }
}

/**
 * Marks a container opened at the action's time, unless it is. One that was poured from before the time it was
 * thought to be opened at, and recorded late, was open then already.
 */
export function openIfSealed(act: Act, container: LedgerContainer): void {
  if (container.opened_at !== null && container.opened_at <= act.happenedAt) return
  if (container.opened_at === null) mark(act, container.id, "opened")
  act.file.runText("UPDATE container SET opened_at = ?, opened_on = ? WHERE id = ?", [
    act.happenedAt,
    act.happenedOn,
    container.id,
  ])
}

/** An empty bottle does not stay on the bench. */
export function leaveBench(act: Act, container: { id: number; on_bench: number }): void {
  if (container.on_bench === 0) return
  mark(act, container.id, "unbenched")
  act.file.runText("UPDATE container SET on_bench = 0 WHERE id = ?", [container.id])
}

function mark(act: Act, containerId: number, kind: MarkKind): void {
  act.file.insert("mark", { action_id: act.actionId, kind, container_id: containerId, lot_id: null })
}

function lotsIn(act: Act, containerId: number): number[] {
  return act.file
    .allText<{ lot_id: number }>(
      `SELECT DISTINCT l.lot_id FROM container_lot l JOIN movement m ON m.id = l.movement_id
       WHERE l.container_id = ? AND ${stands("m.action_id")}`,
      [containerId],
    )
    .map((row) => row.lot_id)
}

function costOf(container: LedgerContainer, amount: number): number {
  return withdrawCost(container.cost_left_micro, amount, container.amount_left)
}

function refuseMoreThanLeft(act: Act, container: LedgerContainer, amount: number): void {
  if (amount <= container.amount_left) return
  const say = (value: number) => formatAmount(value, container.base_unit, act.units)
  throw new Refusal(
    `The book says ${container.code} (${container.supply}) holds ${say(container.amount_left)}; ${say(amount)} were asked for. ` +
      "Take less, use another container, or say that it held more.",
    { field: "amount" },
  )
}

function refuseBeforeArrival(act: Act, container: LedgerContainer): void {
  if (container.received_on !== null && act.happenedOn < container.received_on) {
    throw new Refusal(
      `${container.code} came on ${container.received_on}; it cannot have been used before that day.`,
      {
        field: "happenedAt",
      },
    )
  }
}
