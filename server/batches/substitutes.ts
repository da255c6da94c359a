import type { BaseUnit } from "../../db/tables.ts"
import { planOf } from "../designs/service.ts"
import { isResin } from "../domain/layers.ts"
import type { Plan } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { usableLeft } from "../domain/sprays.ts"
import { type Substitute, withSubstitutes } from "../domain/substitutes.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { onHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { planSupply, substitutes, supplyById } from "../supplies/service.ts"
import { batchSubstitutes } from "./batch-plan.ts"
import { type BatchProgress, batchProgress } from "./progress.ts"
import type { InsteadOf } from "./take.ts"

/**
 * A batch as it would be with other supplies in place of some. Writes nothing.
 *
 * @throws {Refusal} the design does not use one; another is not allowed in its place
 */
export function withInsteadOf<Batch extends Pick<BatchProgress, "id" | "plan" | "next">>(
  studio: Studio,
  batch: Batch,
  choices: readonly InsteadOf[],
): Batch {
  if (choices.length === 0) return batch
  const chosen = new Map(batchSubstitutes(studio).get(batch.id) ?? [])
  for (const choice of choices) {
    const substitute = allowedFor(studio, batch.plan, choice)
    if (substitute === null) chosen.delete(choice.supplyId)
    else chosen.set(choice.supplyId, substitute)
  }
  const plan = withSubstitutes(planOf(studio, batch.plan.versionId), chosen)
  const layer = plan.layers.find(({ position }) => position === batch.next?.layer.position)
  return { ...batch, plan, next: batch.next && layer ? { ...batch.next, layer } : batch.next }
}

/** Writes down that a batch takes other supplies in place of some, from now on. @throws as `withInsteadOf` */
export function writeInsteadOf(
  studio: Studio,
  now: Act,
  batch: Pick<BatchProgress, "id" | "plan">,
  choices: readonly InsteadOf[],
): void {
  for (const choice of choices) {
    const substitute = allowedFor(studio, batch.plan, choice)
    now.file.insert("batch_substitute", {
      action_id: now.actionId,
      batch_id: batch.id,
      supply_id: choice.supplyId,
      substitute_id: choice.substituteId,
      ratio_ppm: substitute?.ratioPpm ?? 1_000_000,
    })
  }
}

/** What a choice stands for; null: the design's own supply. */
function allowedFor(studio: Studio, plan: Plan, { supplyId, substituteId }: InsteadOf): Substitute | null {
  const own = ownSupplies(plan).get(supplyId)
  if (own === undefined) throw new Refusal("That supply is not in this design.", { status: 409 })
  if (substituteId === null) return null
  const allowed = substitutes(studio)
    .get(supplyId)
    ?.find((one) => one.supplyId === substituteId)
  if (!allowed) {
    throw new Refusal(
      `That may not be used in place of ${own}. Say so on the supply's page under Set up, or choose another.`,
      { status: 409 },
    )
  }
  return { supply: planSupply(supplyById(studio, substituteId)), ratioPpm: allowed.ratioPpm }
}

/** The supplies that a design itself names and that another could stand in for, with their names. */
function ownSupplies({ layers }: Plan): Map<number, string> {
  const own = new Map<number, string>()
  for (const use of layers.flatMap((layer) => layer.uses)) {
    if (isResin(use)) continue
    const { id, name } = (use.inPlaceOf ?? use).supply
    own.set(id, name)
  }
  return own
}

/** The design's own supply behind one that is taken now, and how much of that stands for 1 of it, in millionths. */
function ownSupplyOf(plan: Plan, supplyId: number): { supplyId: number; ratioPpm: number } | null {
  for (const use of plan.layers.flatMap((layer) => layer.uses)) {
    if (isResin(use) || use.supply.id !== supplyId) continue
    return { supplyId: (use.inPlaceOf ?? use).supply.id, ratioPpm: use.inPlaceOf?.ratioPpm ?? 1e6 }
  }
  return null
}

/** A batch's supplies that others are taken in place of, for its page. */
export function insteadOfOn({ layers }: Plan): { supplyId: number; supply: string; substitute: string }[] {
  const found = new Map<number, { supplyId: number; supply: string; substitute: string }>()
  for (const use of layers.flatMap((layer) => layer.uses)) {
    if (isResin(use) || !use.inPlaceOf) continue
    const { id, name } = use.inPlaceOf.supply
    found.set(id, { supplyId: id, supply: name, substitute: use.supply.name })
  }
  return [...found.values()]
}

/**
 * What could be taken in a batch in place of a supply that is short: what is allowed in its place, and the design's
 * own where something stands in for it already.
 */
export function otherWays(
  studio: Studio,
  plan: Plan,
  supplyId: number,
): { choice: InsteadOf; name: string; baseUnit: BaseUnit; left: number; ratioPpm: number }[] {
  const own = ownSupplyOf(plan, supplyId)
  if (own === null) return []
  const back =
    own.supplyId === supplyId
      ? []
      : [
          {
            choice: { supplyId: own.supplyId, substituteId: null },
            id: own.supplyId,
            ratioPpm: 1e12 / own.ratioPpm,
          },
        ]
  const others = (substitutes(studio).get(own.supplyId) ?? [])
    .filter((one) => one.supplyId !== supplyId)
    .map((one) => ({
      choice: { supplyId: own.supplyId, substituteId: one.supplyId },
      id: one.supplyId,
      // of what is taken now, which may itself stand in for the design's own
      ratioPpm: (one.ratioPpm * 1e6) / own.ratioPpm,
    }))
  const left = leftOf(
    studio,
    [...back, ...others].map(({ id }) => id),
  )
  return [...back, ...others].flatMap(({ choice, id, ratioPpm }) => {
    const found = left.get(id)
    return found && found.left > 0 ? [{ choice, ratioPpm, ...found }] : []
  })
}

/** How much of some supplies can be used today. */
function leftOf(studio: Studio, supplyIds: readonly number[]) {
  const today = todayOf(studio)
  const shelf = onHand(studio.file, settingsOf(studio).timeZone, supplyIds)
  const found = new Map<number, { name: string; baseUnit: BaseUnit; left: number }>()
  for (const one of shelf) {
    if (one.held || !isUsableOn(one.useBy, today)) continue
    const known = found.get(one.supplyId) ?? { name: one.supply, baseUnit: one.baseUnit, left: 0 }
    found.set(one.supplyId, { ...known, left: known.left + usableLeft(one.amountLeft, one.keptBack) })
  }
  return found
}

/** The choice as one word of a form: "12:15", "12:0" for the design's own. */
export function choiceText({ supplyId, substituteId }: InsteadOf): string {
  return `${supplyId}:${substituteId ?? 0}`
}

/** @param text as `choiceText` writes it */
export function readChoice(text: string): InsteadOf {
  const [supplyId, substituteId] = text.split(":").map(Number)
  return { supplyId: supplyId ?? 0, substituteId: substituteId || null }
}

/** Takes another supply in place of one, in this batch alone and from now on; what it has had stays as it is. */
export function takeInsteadOf(
  studio: Studio,
  by: Actor,
  input: { batchId: number; choice: InsteadOf },
): Done<{ batchId: number }> {
  return act(studio, "substitute", by, input, (now) => {
    const { batchId, choice } = input
    const batch = batchProgress(studio, batchId)
    if (batch.next === null) throw new Refusal("No cup of this batch is in work any more.", { status: 409 })
    writeInsteadOf(studio, now, batch, [choice])
    const own = ownSupplies(batch.plan).get(choice.supplyId)
    const other = choice.substituteId === null ? null : supplyById(studio, choice.substituteId).name
    return {
      summary:
        other === null
          ? `Batch ${batchId} takes ${own} again`
          : `Batch ${batchId} takes ${other} in place of ${own}`,
      answer: { batchId },
    }
  })
}
