import fc from "fast-check"
import { expect } from "vitest"
const test = (_n: string, _o: unknown, f: () => void) => f()
import { history } from "../../server/history/service.ts"
import { CoatLayer, Finish, Scrap, Start } from "./ledger-model/cup-steps.ts"
import { DaysPass, SendOldFormAgain, Undo } from "./ledger-model/history-steps.ts"
import { OnTheShelf, Receive } from "./ledger-model/receiving-steps.ts"
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
} from "./ledger-model/shelf-steps.ts"
import { openShop, type Shop } from "./ledger-model/shop.ts"
import type { Step } from "./ledger-model/step.ts"
import { whyNotUndone } from "./ledger-model/undoing.ts"

/** More runs than usual, or another seed: LEDGER_RUNS=2000 LEDGER_SEED=7 npx vitest run … ledger-model */
const { LEDGER_RUNS = "60", LEDGER_SEED = "20261201" } = process.env

const numbers = fc.array(fc.nat(9_999), { minLength: 4, maxLength: 4 })
const some = (kind: new (numbers: readonly number[]) => Step, weight: number) =>
  Array.from({ length: weight }, () => numbers.map((chosen): Step => new kind(chosen)))

const steps = fc.commands(
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
    ...some(Scrap, 1),
    ...some(Finish, 3),
    ...some(Undo, 5),
    ...some(DaysPass, 1),
    ...some(SendOldFormAgain, 1),
  ],
  { maxCommands: 80, size: "max" },
)

/** A shop with two of every pack on the shelf, so that a first batch can be made. */
function stockedShop(): Shop {
  const shop = openShop()
  shop.packs.forEach((_, index) => {
    new Receive([index, 0, 0, 3]).run(shop)
  })
  return shop
}

test("whatever is done in whatever order, the book agrees with a plain list of what was done", {
  timeout: 3_600_000,
}, () => {
  fc.assert(
    fc.property(steps, (chosen) => {
      const shop = stockedShop()
      try {
        fc.modelRun(() => ({ model: shop, real: shop }), chosen)
      } catch (error) {
        throw new Error(`\n${shop.told.join("\n")}\n${error instanceof Error ? error.message : error}`, {
          cause: error,
        })
      }
      undoIsOfferedWhereItIsPossible(shop)
      shop.studio.file.close()
    }),
    { numRuns: Number(LEDGER_RUNS), seed: Number(LEDGER_SEED), endOnFailure: true },
  )
})

/** The history's page offers just the undos that would be carried out. */
function undoIsOfferedWhereItIsPossible({ studio, book }: Shop): void {
  const known = new Set(book.deeds.map((deed) => deed.id))
  for (const { actionId, undo } of history(studio, 1).entries.filter((entry) => known.has(entry.actionId)))
    expect({ actionId, possible: undo.possible }).toEqual({
      actionId,
      possible: whyNotUndone(book, actionId) === null,
    })
}
