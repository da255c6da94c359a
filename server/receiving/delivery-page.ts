import { sayDate } from "../domain/dates.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { sellers } from "../supplies/service.ts"
import { address } from "./address.ts"
import { expectedIn } from "./awaited.ts"
import { type Delivery, deliveryLines, openDeliveries, recentDeliveries } from "./deliveries.ts"
import { damagedIn } from "./problems.ts"
import { priceField } from "./suggest.ts"

/** The delivery that a scan goes to when none is named: the open one, if there is just one. */
export function deliveryToScanInto(studio: Studio): Delivery | null {
  const [only, ...others] = openDeliveries(studio)
  return only && others.length === 0 ? only : null
}

/** A delivery as a page, or how to begin one. */
export function deliveryPage(studio: Studio, delivery: Delivery | null) {
  return delivery === null ? beginPage(studio) : linesPage(studio, delivery)
}

function linesPage(studio: Studio, delivery: Delivery) {
  const lines = deliveryLines(studio, delivery.id)
  const expected = expectedIn(studio, delivery.id, delivery.sellerId)
  const came = expected.filter((one) => one.missing === 0).length
  return {
    title: "Receive",
    lead: `From ${delivery.seller ?? "somebody not named"}, came ${sayDate(delivery.receivedOn, todayOf(studio))}.`,
    back: { to: "/receive/begin", label: "Other deliveries" },
    delivery,
    lines,
    newest: lines.find((line) => !line.undone && line.isPack)?.lineId ?? null,
    damaged: damagedIn(studio, delivery.id),
    expected: expected.map((one) => ({
      ...one,
      to: confirmAddress(delivery.id, one.packId),
      words: expectedWords(one),
    })),
    came,
    shipping: priceField(delivery.shippingMicro === 0 ? null : delivery.shippingMicro),
    tax: priceField(delivery.taxMicro === 0 ? null : delivery.taxMicro),
    here: address("/receive", { delivery: delivery.id }),
    ...NOT_BEGINNING,
  }
}

const NOT_BEGINNING = { today: "", sellers: [], recent: [], open: [] } as const

function beginPage(studio: Studio) {
  const open = openDeliveries(studio)
  return {
    title: "Receive",
    lead:
      open.length === 0
        ? "Who is the delivery from? Then scan one thing after the other."
        : "Go on with a delivery that is not finished, or begin another.",
    back: undefined,
    delivery: null,
    lines: [],
    newest: null,
    damaged: [],
    expected: [],
    came: 0,
    shipping: "",
    tax: "",
    here: "/receive",
    today: todayOf(studio),
    sellers: sellers(studio),
    recent: recentDeliveries(studio).filter((one) => one.closed),
    open,
  }
}

export function confirmAddress(deliveryId: number, packId: number): string {
  return address("/receive/confirm", { delivery: deliveryId, pack: packId })
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
