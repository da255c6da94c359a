import fc from "fast-check"
import { expect, test } from "vitest"
import { finishBatch, openBatches, startBatch } from "../../server/batches/service.ts"
import { whatIf } from "../../server/forecast/service.ts"
import { history, undo } from "../../server/history/service.ts"
import { verify } from "../../server/verify/service.ts"
import { someone } from "../support/studio.ts"
import { afterAnything } from "./ledger-model/histories.ts"
import type { Shop } from "./ledger-model/shop.ts"
import { whyNotUndone } from "./ledger-model/undoing.ts"

/** More runs than usual, or another seed: LEDGER_RUNS=2000 LEDGER_SEED=7 npx vitest run … ledger-model */
const { LEDGER_RUNS = "60", LEDGER_SEED = "20261201" } = process.env
const runs = Number(LEDGER_RUNS)
const timeout = 60_000 + runs * 5_000

test("whatever is done in whatever order, the book agrees with a plain list of what was done", {
  timeout,
}, () => {
  const agrees = afterAnything(true, (shop) => {
    undoIsOfferedWhereItIsPossible(shop)
    const found = verify(shop.studio.file).map(
      ({ rule, where, sentence }) => `${rule}: ${where}: ${sentence}`,
    )
    expect(found.join("\n"), "npm run verify").toBe("")
  })
  fc.assert(agrees, { numRuns: runs, seed: Number(LEDGER_SEED) })
})

test("whatever was done before, where the forecast says that some cups are enough, making just these succeeds", {
  timeout,
}, () => {
  const made = { cups: 0, besideOthers: 0 }
  const bornOut = afterAnything(false, (shop) => {
    for (const quantity of [1, 2, 4, 9]) makingBearsOut(shop, quantity, made)
  })
  fc.assert(bornOut, { numRuns: runs, seed: Number(LEDGER_SEED) + 1 })
  // the histories must leave something to make, and not too much
  for (const [what, times] of Object.entries(made)) expect(times, what).toBeGreaterThan(runs / 10)
})

/** The history's page offers just the undos that would be carried out. */
function undoIsOfferedWhereItIsPossible({ studio, book }: Shop): void {
  const known = new Set(book.deeds.map((deed) => deed.id))
  for (const { actionId, summary, undo } of history(studio, 1).entries.filter((one) =>
    known.has(one.actionId),
  )) {
    const why = whyNotUndone(book, actionId)
    if (undo.possible !== (why === null))
      throw new Error(
        `undo of ${actionId} (${summary}): ${undo.why ?? "is offered"}; by the oracle: ${why ?? "possible"}`,
      )
  }
}

/**
 * Makes as many as the forecast says, and undoes that; then as many beside all that is under way. One more may go
 * too: the forecast is careful, with cups that may be scrapped and days on which something has gone off.
 */
function makingBearsOut(shop: Shop, quantity: number, made: Record<"cups" | "besideOthers", number>): void {
  const { studio, designId } = shop
  const asked = (cups: number) => whatIf(studio, [{ designId, quantity: cups, dueOn: shop.today() }])
  const enough = asked(quantity).asked[0]?.covered ?? 0
  const underWay = openBatches(studio)
  if (enough > 0) {
    made.cups += 1
    for (const actionId of makeGood(shop, enough)) undo(studio, someone(), actionId)
  }
  if (enough > 0 && underWay.length > 0 && !asked(enough).with.looseShort) {
    made.besideOthers += 1
    const others = underWay.map(
      ({ id }) => finishBatch(studio, someone(), { batchId: id, exceptions: [] }).actionId,
    )
    for (const actionId of [...makeGood(shop, enough), ...others.reverse()]) undo(studio, someone(), actionId)
  }
}

/** Starts and finishes so many cups, all of them good. @returns what to undo, the last first */
function makeGood({ studio, versionId }: Shop, cups: number): number[] {
  const started = startBatch(studio, someone(), { versionId, cups, note: "" })
  const finished = finishBatch(studio, someone(), { batchId: started.answer.batchId, exceptions: [] })
  expect(finished.answer.good).toBe(cups)
  return [finished.actionId, started.actionId]
}
