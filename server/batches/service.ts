import type { CupState } from "../../db/tables.ts"
import { planOf } from "../designs/service.ts"
import type { Layer } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { changeCup, startBatch as writeBatch } from "../ledger/cups.ts"
import type { Studio } from "../ledger/studio.ts"
import { type LowSupply, lowAmong } from "./low.ts"
import { type BatchProgress, batchProgress, type CupProgress } from "./progress.ts"
import { shortOf } from "./short.ts"
import { type Pass, type Say, take } from "./take.ts"
import { writeCoats } from "./write.ts"

export { cupCosts } from "./cost.ts"
export type { LowSupply } from "./low.ts"
export { type BatchProgress, batchProgress, type CupProgress, openBatches, pastBatches } from "./progress.ts"
export type { Missing, Pass, Say, Taken, Taking } from "./take.ts"

/** No studio starts more cups at once; past it a number is a slip of the thumb. */
export const MOST_CUPS = 500

export interface StartInput {
  versionId: number
  cups: number
  note: string
  /** the order line the cups are for, if any */
  orderLineId?: number | null
}

/** Starts a batch: every cup gets its serial at once. Nothing is taken from the shelf yet. */
export function startBatch(
  studio: Studio,
  by: Actor,
  input: StartInput,
): Done<{ batchId: number; cups: { id: number; serial: string }[] }> {
  const plan = planOf(studio, input.versionId)
  if (plan.layers.length === 0)
    throw new Refusal(`${plan.designName} has no layers yet. Add some first.`, { field: "versionId" })
  if (!Number.isInteger(input.cups) || input.cups < 1 || input.cups > MOST_CUPS) {
    throw new Refusal(`A batch has 1 to ${MOST_CUPS} cups.`, { field: "cups" })
  }
  return act(studio, "start", by, input, (now) => {
    const started = writeBatch(now, input)
    if (input.orderLineId)
      for (const cup of started.cups) changeCup(now, cup.id, { orderLineId: input.orderLineId })
    const cups = started.cups.length
    return {
      summary: `Started ${cups} ${cups === 1 ? "cup" : "cups"} of ${plan.designName}`,
      answer: started,
    }
  })
}

/** What was done and what is now low. */
export interface Coated {
  cups: number
  low: LowSupply[]
}

/**
 * Ticks one layer off for the cups that are due for it, or some of them: its consumption is taken from the shelf
 * now.
 *
 * @throws {Short} the shelf lacks something for it; nothing is taken then
 * @throws {Refusal} no such layer, or an earlier one is still to be done
 */
export function coatLayer(
  studio: Studio,
  by: Actor,
  input: { batchId: number; position: number; cupIds?: readonly number[] | null; say?: Say },
): Done<Coated> {
  return act(studio, "coat", by, input, (now) => {
    const batch = batchProgress(studio, input.batchId)
    const { layer, cups } = dueFor(batch, input.position, input.cupIds ?? null)
    const pass: Pass = { layer, cupIds: cups.map((cup) => cup.id) }
    const low = takeAndWrite(studio, now, batch, [pass], input.say ?? {})
    return {
      summary: `${layer.name}: ${cups.length} ${cups.length === 1 ? "cup" : "cups"} of ${batch.plan.designName}`,
      answer: { cups: cups.length, low },
    }
  })
}

/** How a cup came out, where it is not simply good. A scrapped cup has the layers up to `afterLayer`, no more. */
export interface Exception {
  cupId: number
  outcome: "second" | "scrapped"
  afterLayer?: number
}

export interface FinishInput {
  batchId: number
  /** how many the person says are good; left out or null: all but the exceptions */
  good?: number | null
  exceptions: readonly Exception[]
  say?: Say
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
): Done<{ good: number; second: number; scrapped: number; low: Coated["low"] }> {
  return act(studio, "finish", by, input, (now) => {
    const batch = batchProgress(studio, input.batchId)
    const inWork = batch.cups.filter((cup) => cup.state === "in work")
    if (inWork.length === 0) throw new Refusal("No cup of this batch is in work any more.", { status: 409 })
    const exceptions = new Map(input.exceptions.map((one) => [one.cupId, one]))
    for (const one of input.exceptions) refuseOddException(batch, inWork, one)
    refuseOddCount(inWork.length, input.good ?? null, exceptions.size)

    const passes = passesToFinish(batch, input.exceptions)
    const low = takeAndWrite(studio, now, batch, passes, input.say ?? {})

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
      summary: `Finished ${batch.plan.designName}: ${[`${count.good} good`, ...others.filter(Boolean)].join(", ")}`,
      answer: { ...count, low },
    }
  })
}

/** The layers still to do, each with the cups that get it; a cup scrapped after layer k gets none beyond k. */
export function passesToFinish(batch: BatchProgress, exceptions: readonly Exception[]): Pass[] {
  const lastLayer = (cup: CupProgress) => {
    const one = exceptions.find((exception) => exception.cupId === cup.id)
    return one?.outcome === "scrapped" ? (one.afterLayer ?? cup.layersDone) : batch.plan.layers.length
  }
  return batch.plan.layers
    .map((layer) => ({
      layer,
      cupIds: batch.cups
        .filter((cup) => cup.state === "in work")
        .filter((cup) => cup.layersDone < layer.position && layer.position <= lastLayer(cup))
        .map((cup) => cup.id),
    }))
    .filter((pass) => pass.cupIds.length > 0)
}

/** Scraps cups where they stand: they used only the layers they have. */
export function scrapCups(
  studio: Studio,
  by: Actor,
  input: { batchId: number; cupIds: readonly number[] },
): Done<{ scrapped: number }> {
  return changeCups(studio, by, "scrap", input, "scrapped", "Scrapped")
}

function changeCups(
  studio: Studio,
  by: Actor,
  kind: string,
  input: { batchId: number; cupIds: readonly number[] },
  state: CupState,
  verb: string,
): Done<{ scrapped: number }> {
  return act(studio, kind, by, input, (now) => {
    const batch = batchProgress(studio, input.batchId)
    const cups = batch.cups.filter((cup) => input.cupIds.includes(cup.id))
    if (cups.length === 0 || cups.length !== new Set(input.cupIds).size) {
      throw new Refusal("Choose the cups first.", { field: "cupIds" })
    }
    const gone = cups.find((cup) => cup.state !== "in work")
    if (gone) throw new Refusal(`Cup ${gone.serial} is ${gone.state}, not in work.`, { status: 409 })
    for (const cup of cups) changeCup(now, cup.id, { state })
    return {
      summary: `${verb} ${cups.map((cup) => cup.serial).join(", ")}`,
      answer: { scrapped: cups.length },
    }
  })
}

/** Takes what the passes need and writes their coats. @returns what is low now of all that was taken from */
function takeAndWrite(
  studio: Studio,
  now: Act,
  batch: BatchProgress,
  passes: readonly Pass[],
  say: Say,
): LowSupply[] {
  const taking = take(studio, batch.plan, passes, now.happenedOn, say)
  if (taking.kind === "short") throw shortOf(studio, batch.plan, passes, now.happenedOn, say, taking.missing)
  writeCoats(now, batch.id, taking.taken, say)
  const supplyIds = new Set(taking.taken.flatMap(({ need }) => need.draws.map((draw) => draw.supplyId)))
  return lowAmong(studio, supplyIds, taking.shelf, now.happenedOn)
}

/** The layer and the cups that wait for it. @param only of these, some */
function dueFor(
  batch: BatchProgress,
  position: number,
  only: readonly number[] | null,
): { layer: Layer; cups: CupProgress[] } {
  const layer = batch.plan.layers.find((one) => one.position === position)
  if (!layer) throw new Refusal("This design has no such layer.", { status: 404 })
  const cups = batch.cups.filter((cup) => cup.state === "in work" && cup.layersDone === position - 1)
  if (only?.length === 0) throw new Refusal("Choose the cups first.", { field: "cupIds" })
  const chosen = only === null ? cups : cups.filter((cup) => only.includes(cup.id))
  if (only !== null && chosen.length !== new Set(only).size) {
    throw new Refusal(`One of the cups you chose is not waiting for ${layer.name}.`, { status: 409 })
  }
  if (chosen.length > 0) return { layer, cups: chosen }
  const waiting = batch.cups.some((cup) => cup.state === "in work" && cup.layersDone < position - 1)
  throw new Refusal(
    waiting
      ? `${layer.name} comes later: the layer before it is not ticked off yet.`
      : `${layer.name} is done already for every cup in work.`,
    { status: 409 },
  )
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
