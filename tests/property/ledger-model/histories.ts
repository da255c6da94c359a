import fc from "fast-check"
import { CoatAgain, CoatLayer, Finish, Join, Scrap, Split, Start } from "./cup-steps.ts"
import { DaysPass, SendOldFormAgain, Undo } from "./history-steps.ts"
import { OnTheShelf, Receive } from "./receiving-steps.ts"
import {
  Count,
  Hold,
  HoldOrReleaseLot,
  Open,
  Pour,
  PutOnBench,
  Release,
  TakeOffBench,
  Waste,
} from "./shelf-steps.ts"
import { openShop, type Shop } from "./shop.ts"
import type { Step } from "./step.ts"

const numbers = fc.array(fc.nat(9_999), { minLength: 4, maxLength: 4 })
const some = (kind: new (numbers: readonly number[]) => Step, weight: number) =>
  Array.from({ length: weight }, () => numbers.map((chosen): Step => new kind(chosen)))

/** Anything a studio may do, in any order. */
const histories = fc.commands(
  [
    ...some(Receive, 3),
    ...some(OnTheShelf, 1),
    ...some(Open, 1),
    ...some(Pour, 5),
    ...some(Hold, 1),
    ...some(Release, 1),
    ...some(HoldOrReleaseLot, 1),
    ...some(PutOnBench, 2),
    ...some(TakeOffBench, 1),
    ...some(Count, 2),
    ...some(Waste, 1),
    ...some(Start, 2),
    ...some(CoatLayer, 6),
    ...some(CoatAgain, 2),
    ...some(Scrap, 1),
    ...some(Finish, 3),
    ...some(Split, 2),
    ...some(Join, 2),
    ...some(Undo, 5),
    ...some(DaysPass, 1),
    ...some(SendOldFormAgain, 1),
  ],
  { maxCommands: 80, size: "max" },
)

/**
 * A property of a studio after whatever was done in it. The counterexample tells what was asked, line by line.
 *
 * @param comparing whether program and oracle are compared after every step
 */
export function afterAnything(comparing: boolean, check: (shop: Shop) => void): fc.IProperty<unknown> {
  return fc.property(histories, (steps) => {
    const shop = openShop(comparing)
    try {
      // some of every pack, so that a first batch can be made
      shop.packs.forEach((_, index) => {
        new Receive([index, 0, 0, 3]).run(shop)
      })
      fc.modelRun(() => ({ model: shop, real: shop }), steps)
      check(shop)
    } catch (error) {
      const what = error instanceof Error ? error.message : String(error)
      throw new Error(["", ...shop.told, what].join("\n"), { cause: error })
    } finally {
      shop.studio.file.close()
    }
  })
}
