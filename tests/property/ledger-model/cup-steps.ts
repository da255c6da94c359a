import { expect } from "vitest"
import {
  coatLayer,
  finishBatch,
  joinBatch,
  type Say,
  scrapCups,
  splitBatch,
  startBatch,
} from "../../../server/batches/service.ts"
import { type Bottle, type Cup, costOf, type Deed } from "./book.ts"
import { dayFor, pick, pickTime } from "./choose.ts"
import { nowOn, type Shop } from "./shop.ts"
import { ask, Step } from "./step.ts"
import { leaveBenchIfEmpty } from "./undoing.ts"

export class Start extends Step {
  possible(): boolean {
    return true
  }

  take(shop: Shop, say: (said: string) => void): void {
    const [many = 0] = this.numbers
    const cups = 1 + (many % 3)
    const said = `start ${cups} cups`
    say(said)
    ask(shop, {
      said,
      refused: null,
      service: (by) => startBatch(shop.studio, by, { versionId: shop.versionId, cups, note: "" }),
      keep: (deed, answer) => {
        expect(answer.cups.length).toBe(cups)
        shop.book.batches.push(answer.batchId)
        for (const { id, serial } of answer.cups) {
          shop.book.cups.set(id, { id, serial, batchId: answer.batchId })
          deed.cups.push({ cupId: id, state: "in work" })
        }
      },
    })
  }
}

/** A deed on the cups of one batch; most often of one with cups in work. */
abstract class OnBatch extends Step {
  possible(shop: Readonly<Shop>): boolean {
    return shop.book.batches.length > 0
  }

  protected pickBatch(shop: Shop, number: number): { batchId: number; inWork: Cup[] } {
    const inWork = (batchId: number) =>
      shop.book.cupsOf(batchId).filter((cup) => shop.book.cupState(cup.id) === "in work")
    const open = shop.book.batches.filter((id) => inWork(id).length > 0)
    const batchId = pick(number % 8 === 0 || open.length === 0 ? shop.book.batches : open, number >> 3)
    return { batchId, inWork: inWork(batchId) }
  }
}

/** The next layer of a batch, or sometimes another one. */
export class CoatLayer extends OnBatch {
  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, nth = 0, when = 0, more = 0] = this.numbers
    const { batchId, inWork } = this.pickBatch(shop, which)
    const least = Math.min(...inWork.map((cup) => shop.book.layersDone(cup.id)), 2)
    const position = nth % 6 === 0 ? 1 + (nth % 3) : least + 1
    const at = pickTime(shop, when)
    const waiting = inWork.filter((cup) => shop.book.layersDone(cup.id) === position - 1)
    // some of them now, the others later
    const due = nth % 3 === 0 ? waiting.slice(0, 1) : waiting
    const cupIds = nth % 3 === 0 ? due.map((cup) => cup.id) : null
    const passes = [{ layer: position, cups: due }]
    const heldMore = pickHeldMore(shop, passes, dayFor(shop, at), more)
    const said = `coat layer ${position} on ${due.length} cups of batch ${batchId}${at === null ? "" : ` at ${at}`}${saidOf(heldMore)}`
    say(said)
    ask(shop, {
      said,
      at,
      refused:
        due.length === 0
          ? "no cup is due for it"
          : (whyTooEarly(shop, passes, at) ?? whyShort(shop, passes, dayFor(shop, at), heldMore)),
      service: (by) => coatLayer(shop.studio, by, { batchId, position, cupIds, say: { heldMore } }),
      keep: (deed) => keepCoats(shop, deed, passes, heldMore),
    })
  }
}

/** One more coat of the layer that cups have on top; not of the first, which a blank goes with. */
export class CoatAgain extends OnBatch {
  take(shop: Shop, say: (said: string) => void): void {
    const { book } = shop
    const [which = 0, nth = 0, when = 0, more = 0] = this.numbers
    const { batchId, inWork } = this.pickBatch(shop, which)
    const top = Math.max(0, ...inWork.map((cup) => book.layersDone(cup.id)))
    const position = nth % 6 === 0 || top < 2 ? 2 + (nth % 2) : top
    const on = inWork.filter((cup) => book.layersDone(cup.id) === position)
    const cups = nth % 3 === 0 ? on.slice(0, 1) : on
    const at = pickTime(shop, when)
    const passes = [{ layer: position, cups }]
    const heldMore = pickHeldMore(shop, passes, dayFor(shop, at), more)
    const said = `one more coat of layer ${position} on ${cups.length} cups of batch ${batchId}${saidOf(heldMore)}`
    say(said)
    ask(shop, {
      said,
      at,
      refused:
        cups.length === 0
          ? "no cup has it on top"
          : (whyTooEarly(shop, passes, at) ?? whyShort(shop, passes, dayFor(shop, at), heldMore)),
      service: (by) =>
        coatLayer(shop.studio, by, {
          batchId,
          position,
          cupIds: nth % 3 === 0 ? cups.map((cup) => cup.id) : null,
          again: true,
          say: { heldMore },
        }),
      keep: (deed) => keepCoats(shop, deed, passes, heldMore),
    })
  }
}

/** One cup or several thrown away where they stand. */
export class Scrap extends OnBatch {
  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, some = 0, when = 0] = this.numbers
    const { batchId } = this.pickBatch(shop, which)
    const cups = shop.book.cupsOf(batchId).filter((_, index) => some % 3 === 0 || index % 3 === some % 3)
    const at = pickTime(shop, when)
    const said = `scrap ${cups.map((cup) => cup.serial).join(", ")} of batch ${batchId}`
    say(said)
    const gone = cups.some((cup) => shop.book.cupState(cup.id) !== "in work")
    ask(shop, {
      said,
      at,
      refused: cups.length === 0 ? "no cup was chosen" : gone ? "a cup is not in work" : null,
      service: (by) => scrapCups(shop.studio, by, { batchId, cupIds: cups.map((cup) => cup.id) }),
      keep: (deed) => deed.cups.push(...cups.map((cup) => ({ cupId: cup.id, state: "scrapped" as const }))),
    })
  }
}

/** Some cups of a batch go on as a batch of their own; or all of them, which is refused. */
export class Split extends OnBatch {
  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, some = 0] = this.numbers
    const { batchId, inWork } = this.pickBatch(shop, which)
    const cups = inWork.filter((_, index) => some % 5 === 0 || index % 2 === some % 2)
    const said = `split ${cups.map((cup) => cup.serial).join(", ")} off batch ${batchId}`
    say(said)
    ask(shop, {
      said,
      refused:
        cups.length === 0 ? "no cup was chosen" : cups.length === inWork.length ? "no cup would stay" : null,
      service: (by) => splitBatch(shop.studio, by, { batchId, cupIds: cups.map((cup) => cup.id) }),
      keep: (deed, answer) => {
        shop.book.batches.push(answer.batchId)
        deed.wentOn.push(...cups.map((cup) => ({ cupId: cup.id, batchId: answer.batchId })))
      },
    })
  }
}

/** One cup, or all in work of another batch, go on in a batch; only with as many layers as those there. */
export class Join extends OnBatch {
  take(shop: Shop, say: (said: string) => void): void {
    const { book } = shop
    const [which = 0, other = 0, some = 0] = this.numbers
    const { batchId, inWork } = this.pickBatch(shop, which)
    const level = Math.min(...inWork.map((cup) => book.layersDone(cup.id)))
    const others = [...book.cups.values()].filter(
      (cup) => book.cupState(cup.id) === "in work" && book.batchOf(cup) !== batchId,
    )
    const fitting = others.filter((cup) => inWork.length > 0 && book.layersDone(cup.id) === level)
    const from = other % 4 === 0 || fitting.length === 0 ? others : fitting
    const one = from[other % Math.max(1, from.length)]
    const cups = some % 2 === 0 ? from.filter((cup) => one && book.batchOf(cup) === book.batchOf(one)) : [one]
    const chosen = cups.filter((cup) => cup !== undefined)
    const said = `${chosen.map((cup) => cup.serial).join(", ")} go on in batch ${batchId}`
    say(said)
    const fits = chosen.length > 0 && chosen.every((cup) => fitting.includes(cup))
    ask(shop, {
      said,
      refused: fits ? null : "no cup was chosen, or one cannot go on there",
      service: (by) => joinBatch(shop.studio, by, { batchId, cupIds: chosen.map((cup) => cup.id) }),
      keep: (deed) => deed.wentOn.push(...chosen.map((cup) => ({ cupId: cup.id, batchId }))),
    })
  }
}

/** All layers still to do, and every cup good, but for a second or one scrapped after some layer. */
export class Finish extends OnBatch {
  take(shop: Shop, say: (said: string) => void): void {
    const [which = 0, odd = 0, when = 0, more = 0] = this.numbers
    const { book } = shop
    const { batchId, inWork } = this.pickBatch(shop, which)
    const at = pickTime(shop, when)
    const layers = shop.perCup.length
    const oddCup = odd % 2 === 0 ? undefined : inWork[odd % 5]
    const outcome = odd % 3 === 0 ? ("second" as const) : ("scrapped" as const)
    const afterLayer = odd % 4
    const last = (cup: Cup) => (cup === oddCup && outcome === "scrapped" ? afterLayer : layers)
    const passes = Array.from({ length: layers }, (_, index) => ({
      layer: index + 1,
      cups: inWork.filter((cup) => book.layersDone(cup.id) <= index && index < last(cup)),
    })).filter((pass) => pass.cups.length > 0)
    const heldMore = pickHeldMore(shop, passes, dayFor(shop, at), more)
    const oddly = oddCup ? `, ${oddCup.serial} ${outcome} after layer ${last(oddCup)}` : ""
    const said = `finish batch ${batchId}${oddly}${at === null ? "" : ` at ${at}`}${saidOf(heldMore)}`
    say(said)
    const impossible = oddCup && outcome === "scrapped" && afterLayer < book.layersDone(oddCup.id)
    ask(shop, {
      said,
      at,
      refused:
        inWork.length === 0
          ? "no cup is in work"
          : impossible
            ? "the cup has more layers already"
            : (whyTooEarly(shop, passes, at) ?? whyShort(shop, passes, dayFor(shop, at), heldMore)),
      service: (by) =>
        finishBatch(shop.studio, by, {
          batchId,
          exceptions: oddCup
            ? [{ cupId: oddCup.id, outcome, ...(outcome === "scrapped" && { afterLayer }) }]
            : [],
          say: { heldMore },
        }),
      keep: (deed) => {
        keepCoats(shop, deed, passes, heldMore)
        deed.cups.push(
          ...inWork.map((cup) => ({ cupId: cup.id, state: cup === oddCup ? outcome : ("good" as const) })),
        )
      },
    })
  }
}

interface Pass {
  layer: number
  cups: readonly Cup[]
}
type HeldMore = NonNullable<Say["heldMore"]>

/** What goes over a coat cannot have been before it. */
function whyTooEarly({ book, today }: Shop, passes: readonly Pass[], at: string | null): string | null {
  const when = Date.parse(at ?? nowOn(today()))
  const cup = passes
    .flatMap((pass) => pass.cups)
    .find((one) => book.coatsOn(one.id).some(({ deed }) => Date.parse(deed.at) > when))
  return cup ? `${cup.serial} has a coat that is later` : null
}

/** What the layers take for their cups, of each supply. */
function needOf({ perCup }: Shop, passes: readonly Pass[]): Map<number, number> {
  const need = new Map<number, number>()
  for (const { layer, cups } of passes) {
    for (const [supplyId, amount] of perCup[layer - 1] ?? [])
      need.set(supplyId, (need.get(supplyId) ?? 0) + amount * cups.length)
  }
  return need
}

/** What could be taken on that day: come by then, with something in it, not held, not past its day. */
function usableOf({ book }: Shop, supplyId: number, on: string): Bottle[] {
  const mine = [...book.bottles.values()].filter((bottle) => bottle.supplyId === supplyId)
  return mine.filter((bottle) => bottle.cameOn <= on && book.isUsable(bottle.code, on))
}

function whyShort(shop: Shop, passes: readonly Pass[], on: string, heldMore: HeldMore): string | null {
  for (const [supplyId, amount] of needOf(shop, passes)) {
    const usable = usableOf(shop, supplyId, on)
    const more = heldMore.filter((one) => usable.some(({ code }) => idOf(shop, code) === one.containerId))
    const there =
      usable.reduce((sum, bottle) => sum + bottle.amount, 0) + more.reduce((sum, one) => sum + one.amount, 0)
    if (there < amount) return `${amount - there} of ${shop.book.supplies.get(supplyId)?.name} are missing`
  }
  return null
}

/** Sometimes the person says that a bottle held more than the book says. */
function pickHeldMore(shop: Shop, passes: readonly Pass[], on: string, number: number): HeldMore {
  if (number % 4 !== 0) return []
  return [...needOf(shop, passes).keys()].flatMap((supplyId) => {
    const [bottle] = usableOf(shop, supplyId, on)
    const amount = bottle ? Math.floor(bottle.full * 1.25) - bottle.amount : 0
    return bottle && amount > 0 ? [{ containerId: idOf(shop, bottle.code), amount }] : []
  })
}

function saidOf(heldMore: HeldMore): string {
  return heldMore.length === 0 ? "" : `, ${heldMore.length} bottles held more`
}

function idOf({ studio }: Shop, code: string): number {
  return studio.file.firstText<{ id: number }>("SELECT id FROM container WHERE code = ?", [code])!.id
}

interface Drawn {
  coatId: number
  layer: number
  code: string
  amount: number
}

/**
 * Which of the usable bottles a coat came from, and which cups shared a mix, is the allocator's choice and read
 * from the file; how much of what, for which cups, from what could be used, and at what cost, is not.
 */
function keepCoats(shop: Shop, deed: Deed, passes: readonly Pass[], heldMore: HeldMore): void {
  const { book, studio } = shop
  const usable = new Set(
    [...needOf(shop, passes).keys()]
      .flatMap((supplyId) => usableOf(shop, supplyId, deed.on))
      .map((one) => one.code),
  )
  for (const { containerId, amount } of heldMore) {
    const bottle = [...book.bottles.values()].find((one) => idOf(shop, one.code) === containerId)!
    bottle.amount += amount
    deed.moves.push({ code: bottle.code, kind: "count", amount, costMicro: 0 })
  }
  const drawn = studio.file.allText<Drawn>(
    `SELECT t.id AS coatId, y.position AS layer, c.code, -m.amount AS amount FROM movement m
       JOIN coat t ON t.id = m.coat_id JOIN layer y ON y.id = t.layer_id JOIN container c ON c.id = m.container_id
     WHERE m.action_id = ? ORDER BY m.id`,
    [deed.id],
  )
  const cupsOf = (coatId: number) =>
    studio.file
      .allText<{ id: number }>("SELECT cup_id AS id FROM coat_cup WHERE coat_id = ? ORDER BY cup_id", [
        coatId,
      ])
      .map(({ id }) => id)
  const emptied: string[] = []
  for (const coatId of new Set(drawn.map((draw) => draw.coatId))) {
    const mine = drawn.filter((draw) => draw.coatId === coatId)
    const coat = {
      layer: mine[0]!.layer,
      cupIds: cupsOf(coatId),
      draws: [] as Deed["coats"][number]["draws"],
    }
    for (const { code, amount } of mine) {
      expect(usable.has(code), `${code} may be used`).toBe(true)
      const bottle = book.bottle(code)
      const costMicro = costOf(bottle, amount)
      bottle.amount -= amount
      bottle.costMicro -= costMicro
      deed.moves.push({ code, kind: "use", amount: -amount, costMicro: -costMicro })
      coat.draws.push({ code, amount, costMicro })
      emptied.push(code)
    }
    deed.coats.push(coat)
  }
  for (const { layer, cups } of passes) checkPass(shop, deed, layer, cups)
  leaveBenchIfEmpty(book, deed, emptied)
}

/** Each due cup has the layer's supplies from one coat, which took for it just what the design says. */
function checkPass(shop: Shop, deed: Deed, layer: number, cups: readonly Cup[]): void {
  for (const [supplyId, amount] of shop.perCup[layer - 1] ?? []) {
    const coats = deed.coats
      .filter((coat) => coat.layer === layer)
      .map((coat) => {
        const draws = coat.draws.filter((draw) => shop.book.bottle(draw.code).supplyId === supplyId)
        return { cupIds: coat.cupIds, took: draws.reduce((sum, draw) => sum + draw.amount, 0) }
      })
    const served = coats.filter((coat) => coat.took > 0)
    expect(
      served.flatMap((coat) => coat.cupIds).sort((a, b) => a - b),
      `cups of layer ${layer}`,
    ).toEqual(cups.map((cup) => cup.id))
    for (const { cupIds, took } of served)
      expect(took, `taken for layer ${layer}`).toBe(amount * cupIds.length)
  }
}
