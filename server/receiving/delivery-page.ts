import { type IsoDate, sayDate } from "../domain/dates.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { sellers } from "../supplies/service.ts"
import { address } from "./address.ts"
import { type ExpectedLine, expectedFromAll, expectedIn } from "./awaited.ts"
import { type Delivery, deliveryLines, openDeliveries, recentDeliveries } from "./deliveries.ts"
import { damagedIn } from "./problems.ts"
import { priceField } from "./suggest.ts"

/** The delivery that a scan goes to when none is named: the open one, if there is just one. */
export function deliveryToScanInto(studio: Studio): Delivery | null {
  const [only, ...others] = openDeliveries(studio)
  return only && others.length === 0 ? only : null
}

/**
 * A delivery as a page, or how to begin one.
 *
 * @param asksWho nobody was named for a new one: asked once
 */
export function deliveryPage(studio: Studio, delivery: Delivery | null, asksWho = false) {
  return delivery === null ? { ...beginPage(studio), asksWho } : linesPage(studio, delivery)
}

/** So many rows stand open; the others wait under a fold, so that the way to scan stays near. */
const ROWS_OPEN = 8

interface ExpectedRow {
  /** where the line is taken in; null: its delivery is begun first */
  to: string | null
  sellerId: number
  packId: number
  name: string
  words: string
}

function rowsOf(rows: readonly ExpectedRow[], things: number) {
  return { first: rows.slice(0, ROWS_OPEN), rest: rows.slice(ROWS_OPEN), things, came: things - rows.length }
}

function linesPage(studio: Studio, delivery: Delivery) {
  const lines = deliveryLines(studio, delivery.id)
  const expected = expectedIn(studio, delivery.id, delivery.sellerId)
  const today = todayOf(studio)
  const toCome = expected.filter((one) => one.missing > 0)
  return {
    title: "Receive",
    lead: `From ${delivery.seller ?? "somebody not named"}, came ${sayDate(delivery.receivedOn, today)}.`,
    back: { to: "/receive/begin", label: "Other deliveries" },
    delivery,
    lines,
    newest: lines.find((line) => !line.undone && line.isPack)?.lineId ?? null,
    damaged: damagedIn(studio, delivery.id),
    anythingCame: lines.some((line) => !line.undone),
    expected: rowsOf(
      toCome.map((one) => ({
        to: confirmAddress(delivery.id, one.packId),
        sellerId: one.sellerId,
        packId: one.packId,
        name: one.pack,
        words: toComeWords(one, today, delivery.sellerId === null),
      })),
      expected.length,
    ),
    shipping: priceField(delivery.shippingMicro === 0 ? null : delivery.shippingMicro),
    tax: priceField(delivery.taxMicro === 0 ? null : delivery.taxMicro),
    here: address("/receive", { delivery: delivery.id }),
    ...NOT_BEGINNING,
  }
}

const NOT_BEGINNING = { today: "", sellers: [], recent: [], open: [], asksWho: false } as const

function beginPage(studio: Studio) {
  const today = todayOf(studio)
  const open = openDeliveries(studio)
  const expected = expectedFromAll(studio).map((one) => {
    const begun = open.find(({ sellerId }) => sellerId === one.sellerId)
    return {
      to: begun ? confirmAddress(begun.id, one.packId) : null,
      sellerId: one.sellerId,
      packId: one.packId,
      name: one.pack,
      words: toComeWords(one, today, true),
    }
  })
  return {
    title: "Receive",
    lead:
      open.length === 0
        ? expected.length === 0
          ? "Who is the delivery from? Then scan one thing after the other."
          : "Tap what came, or say who the delivery is from and scan one thing after the other."
        : "Go on with a delivery that is not finished, or begin another.",
    back: undefined,
    delivery: null,
    lines: [],
    newest: null,
    damaged: [],
    anythingCame: false,
    expected: rowsOf(expected, expected.length),
    shipping: "",
    tax: "",
    here: "/receive",
    today,
    sellers: sellers(studio),
    recent: recentDeliveries(studio).filter((one) => one.closed),
    open,
  }
}

export function confirmAddress(deliveryId: number, packId: number): string {
  return address("/receive/confirm", { delivery: deliveryId, pack: packId })
}

/** "2 to come from Near & Co, expected Fri 4 Dec" */
function toComeWords(one: ExpectedLine, today: IsoDate, withSeller: boolean): string {
  const from = withSeller ? ` from ${one.seller}` : ""
  const due =
    one.expectedOn < today
      ? `overdue since ${sayDate(one.expectedOn, today)}`
      : `expected ${sayDate(one.expectedOn, today)}`
  return `${expectedWords(one)}${from}, ${due}`
}

/** "1 of 3 came, 2 to come; 1 damaged" */
export function expectedWords(one: ReturnType<typeof expectedIn>[number]): string {
  const came = one.cameBefore + one.cameHere
  const state =
    one.over > 0
      ? `${came} came, ${one.over} more than ordered`
      : one.missing === 0
        ? one.ordered === 1
          ? "came"
          : `all ${one.ordered} came`
        : came === 0
          ? `${one.missing} to come`
          : `${came} of ${one.ordered} came, ${one.missing} to come`
  const wrong = [
    one.damaged > 0 ? `${one.damaged} damaged` : "",
    one.leaked > 0 ? `${one.leaked} leaked` : "",
    one.substituted > 0 ? `${one.substituted} in another's place` : "",
  ].filter(Boolean)
  return [state, ...wrong].join("; ")
}
