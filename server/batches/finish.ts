import { Refusal } from "../domain/refusal.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { changeCup } from "../ledger/cups.ts"
import type { Studio } from "../ledger/studio.ts"
import type { LowSupply } from "./low.ts"
import { type Exception, passesToFinish } from "./passes.ts"
import { type BatchProgress, batchProgress, type CupProgress } from "./progress.ts"
import { earlyRemarks, withScuffing } from "./recoat.ts"
import { inRoom, roomOn } from "./room.ts"
import { scuffRecipe } from "./scuff.ts"
import { insteadOfWords, stillSaid, writeInsteadOf } from "./substitutes.ts"
import type { Say } from "./take.ts"
import { takeAndWrite } from "./write.ts"

export interface FinishInput {
  batchId: number
  /** how many the person says are good; left out or null: all but the exceptions */
  good?: number | null
  exceptions: readonly Exception[]
  say?: Say
  /** cups past their latest recoat are scuffed and wiped first; false: they were coated in time, noted later */
  scuff?: boolean | undefined
}

/**
 * Finishes a batch at once: all layers still to do are taken from the shelf, every cup becomes good unless an
 * exception says otherwise. A cup scrapped after layer k takes only the layers up to k.
 *
 * @throws {Short} the shelf lacks something; nothing is taken then
 * @throws {Refusal} the number of good cups and the exceptions do not go together
 */
export function finishBatch(
  studio: Studio,
  by: Actor,
  input: FinishInput,
): Done<{ good: number; second: number; scrapped: number; low: LowSupply[]; remarks: string[] }> {
  return act(studio, "finish", by, input, (now) => {
    const { insteadOf = [] } = input.say ?? {}
    const before = batchProgress(studio, input.batchId)
    const batch = writeInsteadOf(studio, now, before, insteadOf)
    const inWork = batch.cups.filter((cup) => cup.state === "in work")
    if (inWork.length === 0) throw new Refusal("No cup of this batch is in work any more.", { status: 409 })
    const exceptions = new Map(input.exceptions.map((one) => [one.cupId, one]))
    for (const one of input.exceptions) refuseOddException(batch, inWork, one)
    refuseOddCount(inWork.length, input.good ?? null, exceptions.size)

    // the card was worked out for the room of the day, and what is taken is what it says
    const planned = inRoom(passesToFinish(batch, input.exceptions), roomOn(studio, now.happenedOn))
    const passes = withScuffing(batch, planned, now.happenedAt, input.scuff, scuffRecipe(studio))
    const { low } = takeAndWrite(studio, now, batch, passes, stillSaid(studio, batch.plan, input.say ?? {}))

    const count = { good: 0, second: 0, scrapped: 0 }
    for (const cup of inWork) {
      const state = exceptions.get(cup.id)?.outcome ?? "good"
      count[state] += 1
      changeCup(now, cup.id, { state })
    }
    const others = [
      count.second ? `${count.second} second` : "",
      count.scrapped ? `${count.scrapped} scrapped` : "",
    ]
    return {
      summary: `Finished ${batch.plan.designName}: ${[`${count.good} good`, ...others.filter(Boolean)].join(", ")}${insteadOfWords(batch.plan, insteadOf)}`,
      answer: { ...count, low, remarks: earlyRemarks(batch, passes, now.happenedAt) },
    }
  })
}

function refuseOddCount(cups: number, saidGood: number | null, exceptions: number): void {
  const good = saidGood ?? cups - exceptions
  const bad = cups - good
  if (bad === exceptions) return
  const field = "good"
  if (bad < 0) throw new Refusal(`Only ${cups} ${cups === 1 ? "cup is" : "cups are"} in work.`, { field })
  if (exceptions > 0) {
    throw new Refusal(
      `You said ${good} are good, but with these marks ${cups - exceptions} of ${cups} are. If the marks are right, finish again; if not, change them.`,
      { field },
    )
  }
  throw new Refusal(
    bad === 1
      ? `1 of the ${cups} cups is not good: say which, and what became of it.`
      : `${bad} of the ${cups} cups are not good: say which, and what became of them.`,
    { field },
  )
}

function refuseOddException(batch: BatchProgress, inWork: readonly CupProgress[], one: Exception): void {
  const cup = inWork.find((candidate) => candidate.id === one.cupId)
  if (!cup)
    throw new Refusal("One of the cups you named is not in work in this batch.", { field: "exceptions" })
  if (one.outcome === "second" || one.afterLayer === undefined) return
  if (one.afterLayer < cup.layersDone || one.afterLayer > batch.plan.layers.length) {
    throw new Refusal(
      `Cup ${cup.serial} has ${cup.layersDone} of ${batch.plan.layers.length} layers; it was scrapped after one of ${cup.layersDone} to ${batch.plan.layers.length}.`,
      { field: "exceptions" },
    )
  }
}
