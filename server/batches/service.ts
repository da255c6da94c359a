import type { CupState } from "../../db/tables.ts"
import { planOf } from "../designs/service.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Room, roomRemarks } from "../domain/room.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { changeCup, startBatch as writeBatch } from "../ledger/cups.ts"
import type { Studio } from "../ledger/studio.ts"
import type { LowSupply } from "./low.ts"
import type { Measured } from "./measured.ts"
import { dueFor, passFor } from "./passes.ts"
import { addMakingPhotos } from "./photos.ts"
import { batchProgress } from "./progress.ts"
import { earlyRemarks, withScuffing } from "./recoat.ts"
import { scuffRecipe } from "./scuff.ts"
import { insteadOfWords, isOfResin, stillSaid, writeInsteadOf } from "./substitutes.ts"
import type { InsteadOf, Say } from "./take.ts"
import { takeAndWrite } from "./write.ts"

export { joinBatch, mayJoin, splitBatch, type WentOn, wentOn } from "./apart.ts"
export { batchSubstitutes } from "./batch-plan.ts"
export { coatsOf } from "./coats.ts"
export { cupCosts, unpricedOnCups } from "./cost.ts"
export { curingRemark, stillCuring } from "./cured.ts"
export { type FinishInput, finishBatch } from "./finish.ts"
export type { LowSupply } from "./low.ts"
export { type MeasureInput, measureCoats } from "./measure.ts"
export { checkMix, checksOfMix, HARDNESS, type MixCheck, mixesOn } from "./mix-check.ts"
export { type Exception, passesToFinish, passFor } from "./passes.ts"
export { addCupPhoto, type MakingPhoto, photosOfCup } from "./photos.ts"
export {
  type BatchProgress,
  batchProgress,
  type CupProgress,
  type LayerDone,
  openBatches,
  pastBatches,
} from "./progress.ts"
export { changeScuff, type ScuffRecipe, scuffRecipe } from "./scuff.ts"
export { stripCups } from "./strip.ts"
export { takeInsteadOf } from "./substitutes.ts"
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
  /** what to mind, in words: a coat that was early, a mix off its ratio, the room */
  remarks: string[]
}

export interface CoatInput {
  batchId: number
  position: number
  /** of the cups that are due, only these */
  cupIds?: readonly number[] | null
  say?: Say
  measured?: Measured | null
  /** cups past their latest recoat are scuffed and wiped first; false: they were coated in time, noted later */
  scuff?: boolean | undefined
  /** one more coat of the layer on purpose, on cups that have it on top */
  again?: boolean
  /** where it was put on, if that was said */
  room?: Room | null
  /** a picture of it */
  photoId?: number | null
}

/**
 * Ticks one layer off for the cups that are due for it, or some of them: its consumption is taken from the shelf
 * now.
 *
 * @throws {Short} the shelf lacks something for it; nothing is taken then
 * @throws {Refusal} no such layer, or an earlier one is still to be done
 */
export function coatLayer(studio: Studio, by: Actor, input: CoatInput): Done<Coated> {
  return act(studio, "coat", by, input, (now) => {
    const { insteadOf = [] } = input.say ?? {}
    const before = batchProgress(studio, input.batchId)
    const batch = writeInsteadOf(studio, now, before, insteadOf)
    const { layer, cups } = dueFor(batch, input.position, input.cupIds ?? null, input.again)
    const { room = null } = input
    const measured = measuredWith(input.measured ?? null, insteadOf)
    const pass = { ...passFor(batch, layer, cups), measured, room }
    const passes = withScuffing(batch, [pass], now.happenedAt, input.scuff, scuffRecipe(studio))
    const say = stillSaid(studio, batch.plan, input.say ?? {})
    const { low, remarks, coatIds } = takeAndWrite(studio, now, batch, passes, say)
    if (input.photoId) addMakingPhotos(now, input.photoId, { coatIds })
    remarks.unshift(...earlyRemarks(batch, passes, now.happenedAt))
    if (room) remarks.push(...roomRemarks(room, layer.kind))
    return {
      summary: `${layer.name}${input.again ? ", one more coat" : ""}: ${cups.length} ${cups.length === 1 ? "cup" : "cups"} of ${batch.plan.designName}${insteadOfWords(batch.plan, insteadOf)}`,
      answer: { cups: cups.length, low, remarks },
    }
  })
}

/**
 * What was weighed of a supply that another is now taken in place of says nothing any more; nor does what was poured,
 * where it is a resin: the mixes are others then.
 */
export function measuredWith(measured: Measured | null, insteadOf: readonly InsteadOf[]): Measured | null {
  const replaced = new Set(insteadOf.flatMap((choice) => (isOfResin(choice) ? [] : [choice.supplyId])))
  return (
    measured && {
      ...measured,
      poured: insteadOf.some(isOfResin) ? [] : measured.poured,
      weighed: measured.weighed.filter((one) => !replaced.has(one.supplyId)),
    }
  )
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
