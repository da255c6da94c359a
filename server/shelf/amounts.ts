import type { MovementBasis } from "../../db/tables.ts"
import { Refusal } from "../domain/refusal.ts"
import { formatAmount } from "../domain/units.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { emptyContainer } from "../ledger/fill.ts"
import { type LedgerContainer, move, transfer } from "../ledger/move.ts"
import { keepEmptyWeight } from "../ledger/places.ts"
import type { Studio } from "../ledger/studio.ts"
import { containerInAct, nameOf, refuseBeforeItCame, refuseEmpty } from "./find.ts"
import { type Asked, isHeld, useByOf } from "./marks.ts"
import { type Part, partOf } from "./part.ts"
import { wasteReason } from "./reasons.ts"
import { vesselOf } from "./vessel.ts"

/** How a count was come by; "estimated" is a look at the level. */
export type CountBasis = Exclude<MovementBasis, "planned">

/** "waste": spilled or left in the cup; "write-off": thrown away. */
export type WriteOffKind = "waste" | "write-off"

/** How far over what fits a count may be: past it, it is a slip of the keyboard. */
const MOST_TIMES_FULL = 2

/**
 * Pours one container into another of the same supply. Both count as opened from then on; the second holds the
 * lots of the first too, and is to be used by the earlier of their days.
 *
 * @param pour.amount above zero
 * @throws {Refusal} unknown, the same, another supply, held, more than is left
 */
export function topUp(
  studio: Studio,
  by: Actor,
  pour: { fromCode: string; toCode: string; amount: Part },
): Done<Asked & { amount: number }> {
  return act(studio, "transfer", by, { topUp: pour }, (now) => {
    const to = containerInAct(now, pour.toCode)
    const from = containerInAct(now, pour.fromCode)
    refusePouringFrom(now, from)
    const amount = partOf(from.amount_left, pour.amount, from.base_unit)
    refuseNoAmount(amount)
    transfer(now, from.id, to.id, amount, "estimated", useByOf(now, from))
    const how =
      from.base_unit === "each"
        ? `Put ${say(now, from, amount)} from ${from.code} together with ${nameOf(to)}`
        : `Topped up ${nameOf(to)} with ${say(now, from, amount)} from ${from.code}`
    return {
      summary: how,
      answer: { code: to.code, supplyId: to.supply_id, amount },
    }
  })
}

/**
 * Pours part of a container into a new bottle, which gets a code of its own and counts as full.
 *
 * @param pour.amount above zero
 * @returns the new bottle's code
 * @throws {Refusal} unknown, empty, held, more than is left
 */
export function decant(
  studio: Studio,
  by: Actor,
  pour: { fromCode: string; amount: Part },
): Done<Asked & { amount: number }> {
  return act(studio, "transfer", by, { decant: pour }, (now) => {
    const from = containerInAct(now, pour.fromCode)
    refusePouringFrom(now, from)
    const amount = partOf(from.amount_left, pour.amount, from.base_unit)
    refuseNoAmount(amount)
    const useBy = useByOf(now, from)
    const part = emptyContainer(now, from, amount)
    transfer(now, from.id, part.id, amount, "estimated", useBy)
    const verb = from.base_unit === "each" ? "Split" : "Decanted"
    return {
      summary: `${verb} ${say(now, from, amount)} from ${nameOf(from)} into the new ${vesselOf(now, part.id).one} ${part.code}`,
      answer: { code: part.code, supplyId: from.supply_id, amount },
    }
  })
}

/**
 * Sets what is really in a container. The difference to the book is written as one movement, a gain without
 * cost; a count that agrees with the book is kept as an action without one.
 *
 * @returns the difference, signed
 * @throws {Refusal} unknown, or far more than fits
 */
export function countContainer(
  studio: Studio,
  by: Actor,
  count: Found,
): Done<Asked & { difference: number }> {
  return act(studio, "count", by, count, (now) => {
    const container = countable(now, count)
    const difference = count.amount - container.amount_left
    if (difference !== 0) move(now, container.id, difference, { kind: "count", basis: count.basis })
    const found = `Counted ${nameOf(container)}: ${say(now, container, count.amount)}`
    return {
      summary:
        difference === 0 ? `${found}, as the book says` : `${found} (${signed(now, container, difference)})`,
      answer: { code: container.code, supplyId: container.supply_id, difference },
    }
  })
}

/** What was found in a container. */
export interface Found {
  code: string
  /** base units, zero or more */
  amount: number
  basis: CountBasis
  /** what the bottle alone weighs, where that was said with it */
  empty?: { grossMg: number; emptyMg: number } | undefined
}

/**
 * A container that can be counted so, by itself or as part of a count of the shelf. What was said of the bottle alone
 * is kept with it.
 *
 * @throws {Refusal} unknown, not there yet on that day, or far more than fits
 */
export function countable(now: Act, count: Found): LedgerContainer {
  const container = containerInAct(now, count.code)
  if (!Number.isSafeInteger(count.amount) || count.amount < 0) refuseNoAmount(-1)
  refuseFarMoreThanFits(now, container, count.amount)
  refuseBeforeItCame(now, container)
  if (count.empty) keepEmptyWeight(now, container.id, count.empty)
  return container
}

/**
 * Takes out what goes without going onto a cup: spilled, used for a test piece, given or thrown away.
 *
 * @param off.amount above zero
 * @param off.reason kept with the action: one of `WASTE_REASONS` or any words; may be empty
 * @param off.note what else is said of it
 * @throws {Refusal} unknown, empty, more than is left
 */
export function writeOff(
  studio: Studio,
  by: Actor,
  off: { code: string; amount: Part; kind: WriteOffKind; reason: string; note?: string },
): Done<Asked & { amount: number }> {
  return act(studio, off.kind, { ...by, reason: off.reason }, off, (now) => {
    const container = containerInAct(now, off.code)
    refuseEmpty(container)
    const amount = partOf(container.amount_left, off.amount, container.base_unit)
    refuseNoAmount(amount)
    move(now, container.id, -amount, { kind: off.kind, basis: off.amount === null ? "counted" : "estimated" })
    const what = wasteReason(off.reason)?.verb ?? (off.kind === "waste" ? "Spilled" : "Threw away")
    const note = off.note ? `: ${off.note}` : ""
    return {
      summary: `${what} ${say(now, container, amount)} of ${nameOf(container)}${note}`,
      answer: { code: container.code, supplyId: container.supply_id, amount },
    }
  })
}

/** What is held does not come free by being poured into another bottle. */
function refusePouringFrom(now: Act, from: LedgerContainer): void {
  refuseEmpty(from)
  if (!isHeld(now, from)) return
  throw new Refusal(`${nameOf(from)} is held. Release it first, if it may be used.`, { field: "from" })
}

function refuseNoAmount(amount: number): void {
  if (Number.isSafeInteger(amount) && amount > 0) return
  throw new Refusal("The amount must be above zero.", { field: "amount" })
}

function refuseFarMoreThanFits(now: Act, container: LedgerContainer, amount: number): void {
  const full = now.file.firstText<{ full_amount: number }>("SELECT full_amount FROM container WHERE id = ?", [
    container.id,
  ])
  const fits = Math.max(full?.full_amount ?? 0, container.amount_left)
  if (amount <= fits * MOST_TIMES_FULL) return
  throw new Refusal(
    `${nameOf(container)} holds ${say(now, container, fits)} when full; ${say(now, container, amount)} cannot be in it. Check the number and its unit.`,
    { field: "amount" },
  )
}

function say(now: Act, container: LedgerContainer, amount: number): string {
  return formatAmount(amount, container.base_unit, now.units)
}

function signed(now: Act, container: LedgerContainer, difference: number): string {
  const amount = say(now, container, Math.abs(difference))
  return difference > 0 ? `${amount} more than the book said` : `${amount} less than the book said`
}
