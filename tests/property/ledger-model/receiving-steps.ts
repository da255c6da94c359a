import { expect } from "vitest"
import { receive, receiveOpening } from "../../../server/receiving/service.ts"
import { type Book, type Deed, daysAfter, type Lot } from "./book.ts"
import { lotIdOf, pick } from "./choose.ts"
import { nowOn, type Shop } from "./shop.ts"
import { ask, Step } from "./step.ts"

/** What is printed on a label, or worked out where nothing is. */
interface Label {
  supplyId: number
  number: string | null
  printed: string | null
}

/** One or two of a pack, with a lot number or none, a day on the label or none, today or some days ago. */
export class Receive extends Step {
  possible(): boolean {
    return true
  }

  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, number = 0, printed = 0, ago = 0] = this.numbers
    const pack = pick(shop.packs, which)
    const receivedOn = daysAfter(shop.today(), -pick([0, 0, 0, 1, 4], ago))
    const lots = [...new Set(pack.contents.map((content) => content.supplyId))].map((supplyId): Label => {
      const day = pick([null, null, null, 40, 10, 0, -1], printed)
      return {
        supplyId,
        number: pick(["L1", "L2", "L1", null], number),
        printed: day === null ? null : daysAfter(receivedOn, day),
      }
    })
    const count = 1 + (which % 2)
    const labels = lots.map((lot) => `${lot.number ?? "no lot number"}, ${lot.printed ?? "no date"}`)
    const said = `receive ${count} × ${pack.name} on ${receivedOn} (${labels[0]})`
    say(said)
    const why = lots.map((lot) => whyNotOnThisLabel(shop.book, lot, receivedOn)).find((one) => one !== null)
    const deliveryId = shop.deliveryOf(receivedOn)
    ask(shop, {
      said,
      refused: why ?? null,
      service: (by) =>
        receive(shop.studio, by, {
          deliveryId,
          packId: pack.id,
          count,
          priceMicro: pack.priceMicro,
          lots: lots.map(({ supplyId, number, printed }) => ({
            supplyId,
            number,
            madeOn: null,
            expiresOn: printed,
          })),
        }),
      keep: (deed, answer) => {
        const inPack = pack.contents.flatMap((content) =>
          Array.from({ length: content.count }, () => content),
        )
        expect(answer.containers.length, "a code for each container").toBe(count * inPack.length)
        const kept = new Map<number, Lot>()
        for (let unit = 0; unit < count; unit++) {
          const mine = answer.containers.slice(unit * inPack.length, (unit + 1) * inPack.length)
          const costs = mine.map(({ code }) => costAsReceived(shop, code))
          expect(
            costs.reduce((sum, cost) => sum + cost, 0),
            "the parts of a price add up to it",
          ).toBe(pack.priceMicro)
          mine.forEach(({ code }, index) => {
            const { supplyId, amount } = inPack[index]!
            expect(Math.abs(costs[index]! - pack.priceMicro / inPack.length), "an even part").toBeLessThan(1)
            const label = lots.find((lot) => lot.supplyId === supplyId)!
            const lot = kept.get(supplyId) ?? keepLot(shop, deed, label, receivedOn, code)
            kept.set(supplyId, lot)
            shop.book.bottles.set(code, {
              code,
              supplyId,
              lot,
              full: amount,
              cameOn: receivedOn,
              amount,
              costMicro: costs[index]!,
            })
            deed.moves.push({ code, kind: "receive", amount, costMicro: costs[index]! })
          })
        }
      },
    })
  }
}

/** Something that stood on the shelf before the book: part-used, perhaps opened some days ago, its lot unknown. */
export class OnTheShelf extends Step {
  possible(): boolean {
    return true
  }

  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, part = 0, ago = 0] = this.numbers
    const content = pick(pick(shop.packs, which).contents, which)
    const amount = Math.max(1, Math.floor((content.amount * (1 + (part % 4))) / 4))
    const daysAgo = pick([null, 0, 3], ago)
    const openedOn = daysAgo === null ? null : daysAfter(shop.today(), -daysAgo)
    const priceMicro = 9_999_999
    const name = shop.book.supplies.get(content.supplyId)?.name
    const said = `${name} was on the shelf: ${amount} of ${content.amount}, ${openedOn === null ? "sealed" : `opened ${openedOn}`}`
    say(said)
    ask(shop, {
      said,
      refused: null,
      at: null,
      service: (by) =>
        receiveOpening(shop.studio, by, {
          supplyId: content.supplyId,
          fullAmount: content.amount,
          amount,
          opened: openedOn !== null,
          openedOn,
          expiresOn: null,
          priceMicro,
        }),
      keep: (deed, answer) => {
        const [{ code } = { code: "" }] = answer.containers
        if (openedOn !== null) {
          deed.at = nowOn(openedOn)
          deed.on = openedOn
          deed.marks.push({ kind: "opened", code })
        }
        const lot = keepLot(
          shop,
          deed,
          { supplyId: content.supplyId, number: null, printed: null },
          null,
          code,
        )
        const costMicro = Number((BigInt(priceMicro) * BigInt(amount)) / BigInt(content.amount))
        shop.book.bottles.set(code, {
          code,
          supplyId: content.supplyId,
          lot,
          full: content.amount,
          cameOn: deed.on,
          amount,
          costMicro,
        })
        deed.moves.push({ code, kind: "receive", amount, costMicro })
      },
    })
  }
}

function costAsReceived({ studio }: Shop, code: string): number {
  return studio.file.firstText<{ cost: number }>(
    "SELECT cost_left_micro AS cost FROM container WHERE code = ?",
    [code],
  )!.cost
}

/** A day that passed before it came cannot be; nor can one lot go off on two days, as its labels say. */
function whyNotOnThisLabel(book: Book, label: Label, receivedOn: string): string | null {
  if (label.printed !== null && label.printed < receivedOn) return "its label's day passed before it came"
  const known = knownLot(book, label)
  if (!known || !hasCome(book, known) || !known.labelled) return null
  if (label.printed !== null && label.printed !== known.expiresOn)
    return "the lot's other label says another day"
  return known.expiresOn !== null && known.expiresOn < receivedOn
    ? "its lot's day passed before it came"
    : null
}

/**
 * One lot bought twice is one lot. Its label's day counts before the one worked out from the shelf life of what
 * came first. A lot whose every delivery was undone is described anew.
 */
function keepLot(shop: Shop, deed: Deed, label: Label, receivedOn: string | null, code: string): Lot {
  const { book } = shop
  const id = lotIdOf(shop, code)
  const shelfDays = book.supplies.get(label.supplyId)?.shelfDays ?? null
  const workedOut = shelfDays === null || receivedOn === null ? null : daysAfter(receivedOn, shelfDays)
  const known = knownLot(book, label)
  if (!known) {
    expect(book.lots.has(id), "a new lot").toBe(false)
    const lot: Lot = {
      id,
      supplyId: label.supplyId,
      number: label.number,
      expiresOn: label.printed ?? workedOut,
      labelled: label.printed !== null,
    }
    book.lots.set(id, lot)
    return lot
  }
  expect(id, "one lot bought twice is one lot").toBe(known.id)
  if (!hasCome(book, known, deed)) {
    known.expiresOn = label.printed ?? workedOut
    known.labelled = label.printed !== null
  } else if (label.printed !== null) {
    known.expiresOn = label.printed
    known.labelled = true
  }
  return known
}

function knownLot(book: Book, label: Label): Lot | undefined {
  if (label.number === null) return undefined
  return [...book.lots.values()].find((lot) => lot.supplyId === label.supplyId && lot.number === label.number)
}

/** Whether a delivery of the lot stands. */
function hasCome(book: Book, lot: Lot, but?: Deed): boolean {
  return book
    .standing()
    .some(
      (deed) =>
        deed !== but &&
        deed.moves.some((move) => move.kind === "receive" && book.bottle(move.code).lot === lot),
    )
}
