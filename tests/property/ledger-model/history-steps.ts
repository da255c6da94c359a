import { expect } from "vitest"
import { undo } from "../../../server/history/service.ts"
import { pick } from "./choose.ts"
import type { Shop } from "./shop.ts"
import { ask, everyRow, Step, sendAgain } from "./step.ts"
import { leaveBenchIfEmpty, takeBack, whyNotUndone } from "./undoing.ts"

/** Any earlier action: the last ones, pours and coats more often, undos and what is undone already less. */
export class Undo extends Step {
  possible(shop: Readonly<Shop>): boolean {
    return shop.book.deeds.length > 0
  }

  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0] = this.numbers
    const { book } = shop
    const standing = book.standing().filter((deed) => deed.undoes === null)
    const pours = standing.filter((deed) => deed.moves.some((move) => move.from !== undefined))
    const coats = standing.filter((deed) => deed.coats.length > 0)
    const some = pick([standing.slice(-3), standing, pours, coats, book.deeds], which)
    const target = pick(some.length > 0 ? some : book.deeds, Math.floor(which / 5))
    const said = `undo ${target.id} (${target.said})`
    say(said)
    ask(shop, {
      said,
      refused: whyNotUndone(book, target.id),
      service: (by) => undo(shop.studio, by, target.id),
      keep: (deed) => {
        deed.undoes = target.id
        takeBack(book, target)
        leaveBenchIfEmpty(
          book,
          deed,
          target.moves.filter((move) => move.amount > 0).map((move) => move.code),
        )
      },
    })
  }
}

/** Days pass, so that things go off. */
export class DaysPass extends Step {
  possible(): boolean {
    return true
  }

  take(shop: Shop, say: (said: string) => void): void {
    const days = 1 + ((this.numbers[0] ?? 0) % 12)
    shop.passDays(days)
    say(`${days} days pass: ${shop.today()}`)
  }
}

/** A form that was carried out long ago comes once more; or another one with its key. */
export class SendOldFormAgain extends Step {
  possible(shop: Readonly<Shop>): boolean {
    return shop.sent.length > 1
  }

  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, other = 0] = this.numbers
    const old = pick(shop.sent, which)
    const another = pick(shop.sent, other)
    say(`send “${old.said}” again, and “${another.said}” with its key`)
    sendAgain(shop, old)
    if (another.done.actionId === old.done.actionId || another.said === old.said) return
    const before = everyRow(shop)
    expect(() => another.service(old.by)).toThrow("already sent with other contents")
    expect(everyRow(shop)).toEqual(before)
  }
}
