import type { Actor, Done } from "../../../server/ledger/act.ts"
import {
  bench,
  countContainer,
  decant,
  hold,
  holdLot,
  openContainer,
  release,
  releaseLot,
  topUp,
  unbench,
  writeOff,
} from "../../../server/shelf/service.ts"
import { type Book, type Bottle, costOf, type Deed } from "./book.ts"
import { dayFor, pick, pickAmount, pickBottle, pickTime } from "./choose.ts"
import type { Shop } from "./shop.ts"
import { ask, Step } from "./step.ts"
import { leaveBenchIfEmpty } from "./undoing.ts"

/** A deed on one container. */
abstract class OnBottle extends Step {
  possible(shop: Readonly<Shop>): boolean {
    return shop.book.bottles.size > 0
  }

  /** What is wrong with any deed on it: it never came, or came later than the deed. */
  protected whyNotAtAll(shop: Shop, bottle: Bottle, at: string | null): string | null {
    if (!shop.book.isThere(bottle.code)) return `${bottle.code} never came: that was undone`
    return dayFor(shop, at) < bottle.cameOn ? `${bottle.code} came later` : null
  }
}

/** Opened, held, released, put on the bench or taken off it. */
abstract class MarkOne extends OnBottle {
  abstract readonly verb: string
  abstract readonly kind: "opened" | "held" | "released" | "benched" | "unbenched"
  abstract service(shop: Shop, by: Actor, code: string): Done<unknown>
  abstract whyNot(shop: Shop, bottle: Bottle): string | null

  /** Those it is most often done to; none: any. */
  protected likely(_shop: Shop): Bottle[] {
    return []
  }

  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, when = 0] = this.numbers
    const likely = this.likely(shop)
    const bottle = which % 4 === 0 || likely.length === 0 ? pickBottle(shop, which) : pick(likely, which >> 2)
    const at = pickTime(shop, when)
    const said = `${this.verb} ${bottle.code}${at === null ? "" : ` at ${at}`}`
    say(said)
    ask(shop, {
      said,
      at,
      refused: this.whyNotAtAll(shop, bottle, at) ?? this.whyNot(shop, bottle),
      service: (by) => this.service(shop, by, bottle.code),
      keep: (deed) => deed.marks.push({ kind: this.kind, code: bottle.code }),
    })
  }
}

export class Open extends MarkOne {
  readonly verb = "open"
  readonly kind = "opened"
  service = ({ studio }: Shop, by: Actor, code: string) => openContainer(studio, by, code)
  whyNot({ book }: Shop, { code, amount }: Bottle): string | null {
    if (amount === 0) return "it is empty"
    return book.openedAt(code) === null ? null : "it is open"
  }
}

export class Hold extends MarkOne {
  readonly verb = "hold"
  readonly kind = "held"
  service = ({ studio }: Shop, by: Actor, code: string) => hold(studio, by, code)
  whyNot({ book }: Shop, { code }: Bottle): string | null {
    return book.heldItself(code) ? "it is held" : null
  }
}

export class Release extends MarkOne {
  readonly verb = "release"
  readonly kind = "released"
  protected override likely({ book }: Shop): Bottle[] {
    return [...book.bottles.values()].filter(({ code }) => book.heldItself(code))
  }
  service = ({ studio }: Shop, by: Actor, code: string) => release(studio, by, code)
  whyNot({ book }: Shop, { code }: Bottle): string | null {
    return book.heldItself(code) ? null : "it is not held itself"
  }
}

export class PutOnBench extends MarkOne {
  readonly verb = "put on the bench"
  readonly kind = "benched"
  service = ({ studio }: Shop, by: Actor, code: string) => bench(studio, by, code)
  whyNot({ book }: Shop, { code, amount, supplyId }: Bottle): string | null {
    if (amount === 0) return "it is empty"
    if (book.onBench(supplyId) === code) return "it is there"
    return book.isHeld(code) ? "it is held" : null
  }
}

export class TakeOffBench extends MarkOne {
  readonly verb = "take off the bench"
  readonly kind = "unbenched"
  protected override likely({ book }: Shop): Bottle[] {
    return [...book.bottles.values()].filter(({ code, supplyId }) => book.onBench(supplyId) === code)
  }
  service = ({ studio }: Shop, by: Actor, code: string) => unbench(studio, by, code)
  whyNot({ book }: Shop, { code, supplyId }: Bottle): string | null {
    return book.onBench(supplyId) === code ? null : "it is not there"
  }
}

/** Holds a lot, or lets it go. */
export class HoldOrReleaseLot extends Step {
  possible(shop: Readonly<Shop>): boolean {
    return shop.book.lots.size > 0
  }

  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, what = 0] = this.numbers
    const { id } = pick([...shop.book.lots.values()], which)
    const held = shop.book.lotHeld(id)
    const toHold = what % 4 === 0 ? held : !held
    const said = `${toHold ? "hold" : "release"} lot ${id}`
    say(said)
    ask(shop, {
      said,
      refused: toHold === held ? "it is so already" : null,
      service: (by) => (toHold ? holdLot : releaseLot)(shop.studio, by, id),
      keep: (deed) => deed.marks.push({ kind: toHold ? "lot held" : "lot released", lotId: id }),
    })
  }
}

/** From one bottle into another, or into a new one. */
export class Pour extends OnBottle {
  take(shop: Shop, say: (said: string) => void): void {
    const [source = 0, target = 0, part = 0, when = 0] = this.numbers
    const { book } = shop
    const from = pickBottle(shop, source)
    const others = [...book.bottles.values()].filter(
      (one) => one.code !== from.code && (target % 16 === 0 || one.supplyId === from.supplyId),
    )
    // where the mixture matters: into one that was used before
    const used = others.filter(({ code }) => usedInCoats(book).has(code))
    const to =
      target % 5 === 0 || others.length === 0
        ? null
        : pick(target % 2 === 0 && used.length > 0 ? used : others, target >> 1)
    const at = pickTime(shop, when)
    const amount = pickAmount(Math.max(1, from.amount), part)
    const asked = amount === from.amount ? null : amount
    const said = `pour ${asked ?? "all"} from ${from.code} into ${to?.code ?? "a new bottle"}${at === null ? "" : ` at ${at}`}`
    say(said)
    const useBy = book.useBy(from.code)
    ask(shop, {
      said,
      at,
      refused: this.#whyNot(shop, from, to, amount, at),
      service: (by) =>
        to === null
          ? decant(shop.studio, by, { fromCode: from.code, amount: asked })
          : topUp(shop.studio, by, { fromCode: from.code, toCode: to.code, amount: asked }),
      keep: (deed, answer) => {
        const into = to ?? {
          code: answer.code,
          supplyId: from.supplyId,
          lot: from.lot,
          full: amount,
          cameOn: deed.on,
          amount: 0,
          costMicro: 0,
        }
        book.bottles.set(into.code, into)
        const costMicro = costOf(from, amount)
        from.amount -= amount
        from.costMicro -= costMicro
        into.amount += amount
        into.costMicro += costMicro
        deed.moves.push(
          { code: from.code, kind: "transfer", amount: -amount, costMicro: -costMicro },
          { code: into.code, kind: "transfer", amount, costMicro, from: from.code, useBy },
        )
        leaveBenchIfEmpty(book, deed, [from.code])
      },
    })
  }

  #whyNot(shop: Shop, from: Bottle, to: Bottle | null, amount: number, at: string | null): string | null {
    const impossible = this.whyNotAtAll(shop, from, at) ?? (to && this.whyNotAtAll(shop, to, at))
    if (impossible) return impossible
    if (from.amount === 0) return "it is empty"
    if (shop.book.isHeld(from.code)) return "it is held"
    if (to !== null && to.supplyId !== from.supplyId) return "they are not the same supply"
    return amount > from.amount ? "there is less in it" : null
  }
}

/** What is really in it: less, more, as the book says, just what was poured in last, or far more than fits. */
export class Count extends OnBottle {
  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, part = 0, when = 0] = this.numbers
    const mixtures = [...shop.book.bottles.values()].filter(({ code }) => lastPour(shop.book, code) > 0)
    const bottle = part % 2 === 0 && mixtures.length > 0 ? pick(mixtures, which) : pickBottle(shop, which)
    const at = pickTime(shop, when)
    const amount =
      (part % 4 === 0 && lastPour(shop.book, bottle.code)) ||
      Math.round(bottle.full * pick([0, 0.2, 0.5, 0.9, 1, 1.5, 4.1], part)) ||
      pick([0, 1], which)
    const said = `count ${bottle.code}: ${amount}${at === null ? "" : ` at ${at}`}`
    say(said)
    const farTooMuch = amount > 2 * Math.max(bottle.full, bottle.amount)
    ask(shop, {
      said,
      at,
      refused: this.whyNotAtAll(shop, bottle, at) ?? (farTooMuch ? "so much does not fit" : null),
      service: (by) => countContainer(shop.studio, by, { code: bottle.code, amount, basis: "counted" }),
      keep: (deed) => {
        const difference = amount - bottle.amount
        if (difference > 0) {
          bottle.amount = amount
          deed.moves.push({ code: bottle.code, kind: "count", amount: difference, costMicro: 0 })
        }
        if (difference < 0) takeOut(shop, deed, bottle, -difference, "count")
      },
    })
  }
}

/** Spilled, or thrown away; part of it or all. */
export class Waste extends OnBottle {
  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, part = 0, when = 0] = this.numbers
    const bottle = pickBottle(shop, which)
    const at = pickTime(shop, when)
    const amount = pickAmount(Math.max(1, bottle.amount), part)
    const asked = amount === bottle.amount ? null : amount
    const kind = which % 2 === 0 ? "waste" : "write-off"
    const said = `${kind} of ${asked ?? "all"} from ${bottle.code}${at === null ? "" : ` at ${at}`}`
    say(said)
    const tooMuch = amount > bottle.amount ? "there is less in it" : null
    ask(shop, {
      said,
      at,
      refused: this.whyNotAtAll(shop, bottle, at) ?? tooMuch,
      service: (by) => writeOff(shop.studio, by, { code: bottle.code, amount: asked, kind, reason: "" }),
      keep: (deed) => takeOut(shop, deed, bottle, amount, "waste"),
    })
  }
}

/** How much was poured into a bottle the last time; 0: never. */
function lastPour(book: Book, code: string): number {
  const moves = book.standing().flatMap((deed) => deed.moves)
  return moves.filter((move) => move.code === code && move.from !== undefined).at(-1)?.amount ?? 0
}

function usedInCoats(book: Book): Set<string> {
  const coats = book.standing().flatMap((deed) => deed.coats)
  return new Set(coats.flatMap((coat) => coat.draws.map((draw) => draw.code)))
}

function takeOut(shop: Shop, deed: Deed, bottle: Bottle, amount: number, kind: "count" | "waste"): void {
  const costMicro = costOf(bottle, amount)
  bottle.amount -= amount
  bottle.costMicro -= costMicro
  deed.moves.push({ code: bottle.code, kind, amount: -amount, costMicro: -costMicro })
  leaveBenchIfEmpty(shop.book, deed, [bottle.code])
}
