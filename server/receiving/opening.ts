import { type IsoDate, sayDate } from "../domain/dates.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Life, lotExpiry } from "../domain/shelf-life.ts"
import { formatAmount, type UnitSystem } from "../domain/units.ts"
import { type Act, type Actor, act, type Done, type Written } from "../ledger/act.ts"
import { fillContainer, lotOf } from "../ledger/fill.ts"
import { markOpened } from "../ledger/marks.ts"
import { putAt } from "../ledger/places.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { supplyById } from "../supplies/service.ts"
import type { Received } from "./receive.ts"

/** Something that stood on the shelf before the book was begun. Amounts in the supply's base unit. */
export interface OpeningInput {
  supplyId: number
  makerId?: number | null | undefined
  /** what one held when it was full */
  fullAmount: number
  /** as printed; left out or null: not known */
  lotNumber?: string | null | undefined
  /** where it stands; left out or null: not said */
  place?: string | null | undefined
  /** what is in it now */
  amount: number
  opened: boolean
  /** as printed, null when not known */
  expiresOn: IsoDate | null
  /** when it was opened; left out: not known, so its life after opening counts from today */
  openedOn?: IsoDate | null | undefined
  /** how many like this; one when left out */
  count?: number | undefined
  /** what a full one cost; nothing when left out */
  priceMicro?: number | undefined
}

/**
 * Puts what is on the shelf today into the book: a part-used bottle, its lot mostly unknown. What it goes off on is
 * what its label says or not known, since nobody knows when it came; it may have gone off already.
 *
 * @throws {Refusal} more in it than it holds; opened on a day still to come; a count or price that cannot be
 */
export function receiveOpening(studio: Studio, by: Actor, input: OpeningInput): Done<Received> {
  const today = todayOf(studio)
  const openedOn = input.opened ? (input.openedOn ?? null) : null
  // A mark carries the time of its action: what was opened on an earlier day happened on that day, at noon.
  const happenedAt = openedOn !== null && openedOn < today ? `${openedOn}T12:00` : by.happenedAt
  const putIn = (now: Act) => {
    refuseUnlikely(input, openedOn, today)
    return putOnShelf(studio, now, input)
  }
  return act(studio, "receive", by, input, putIn, happenedAt)
}

/**
 * The same as a part of an action: of one that brings in all that stood on the shelf, say.
 *
 * @throws {Refusal} more in it than it holds; a count, price or lot that cannot be
 */
export function putOnShelf(studio: Studio, now: Act, input: OpeningInput): Written<Received> {
  refuseImpossible(input)
  const supply = supplyById(studio, input.supplyId)
  const count = input.count ?? 1
  const lineId = now.file.insert("receipt_line", {
    delivery_id: openingDelivery(now),
    action_id: now.actionId,
    pack_id: null,
    purchase_id: null,
    count,
    price_micro: input.priceMicro ?? 0,
  })
  const lotId = openingLot(now, input, supply.shelfLife)
  const containers: Received["containers"] = []
  for (let made = 0; made < count; made++) {
    const { id, code } = fillContainer(now, {
      supplyId: supply.id,
      lotId,
      receiptLineId: lineId,
      kitUnit: null,
      fullAmount: input.fullAmount,
      amount: input.amount,
      costMicro: costOfPart(input),
      basis: input.amount === input.fullAmount || supply.baseUnit === "each" ? "counted" : "estimated",
    })
    if (input.opened) markOpened(now, id)
    if (input.place) putAt(now, id, input.place)
    containers.push({ id, code, supply: supply.name })
  }
  const were = wereThere(input.amount, count, supply.baseUnit, now.units)
  return { summary: `${supply.name}: ${were} on the shelf`, answer: { lineId, containers, over: 0 } }
}

/** "237 mL was", "2 × 80 mL was", "6 were". */
function wereThere(amount: number, count: number, baseUnit: BaseUnit, units: UnitSystem): string {
  const pieces = baseUnit === "each"
  const one = formatAmount(amount, baseUnit, units)
  const all = count === 1 ? one : pieces && amount === 1 ? String(count) : `${count} × ${one}`
  return `${all} ${pieces && amount * count > 1 ? "were" : "was"}`
}

/** What is left of the price of a full one. The product runs past 2⁵³. */
function costOfPart({ priceMicro = 0, amount, fullAmount }: OpeningInput): number {
  return Number((BigInt(priceMicro) * BigInt(amount)) / BigInt(fullAmount))
}

function openingLot(now: Act, input: OpeningInput, shelfLife: Life | null): number {
  const { expiresOn, basis } = lotExpiry({
    label: input.expiresOn,
    madeOn: null,
    receivedOn: null,
    shelfLife,
  })
  return lotOf(now, {
    supplyId: input.supplyId,
    makerId: input.makerId ?? null,
    number: input.lotNumber ?? null,
    madeOn: null,
    expiresOn,
    expiryBasis: basis,
  })
}

/** Opening stock of one day stands together. */
function openingDelivery(now: Act): number {
  const known = now.file.firstText<{ id: number }>(
    "SELECT id FROM delivery WHERE kind = 'opening' AND received_on = ? ORDER BY id LIMIT 1",
    [now.happenedOn],
  )
  return (
    known?.id ??
    now.file.insert("delivery", {
      seller_id: null,
      received_on: now.happenedOn,
      kind: "opening",
      note: "",
    })
  )
}

function refuseUnlikely(input: OpeningInput, openedOn: IsoDate | null, today: IsoDate): void {
  refuseImpossible(input)
  if (openedOn !== null && openedOn > today) {
    throw new Refusal(`${sayDate(openedOn, today)} is still to come. Put the day on which it was opened.`, {
      field: "openedOn",
    })
  }
}

/** @throws {Refusal} more in it than it holds; a count or price that cannot be */
export function refuseImpossible(input: OpeningInput): void {
  const whole = (value: number, most: number) => Number.isSafeInteger(value) && value >= 1 && value <= most
  if (!whole(input.fullAmount, 1e12))
    throw new Refusal("How much a full one holds is more than nothing.", { field: "fullAmount" })
  if (!whole(input.amount, 1e12))
    throw new Refusal("Put only what still has something in it.", { field: "amount" })
  if (input.amount > input.fullAmount)
    throw new Refusal("There cannot be more in it than it holds when full.", { field: "amount" })
  if (!whole(input.count ?? 1, 200))
    throw new Refusal("How many like this is a whole number from 1 to 200.", { field: "count" })
  if (!Number.isSafeInteger(input.priceMicro ?? 0) || (input.priceMicro ?? 0) < 0)
    throw new Refusal("That price cannot be. Write what a full one cost, or leave it empty.", {
      field: "price",
    })
}
