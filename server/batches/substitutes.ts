import { planOf } from "../designs/service.ts"
import { isResin } from "../domain/layers.ts"
import type { Plan, ResinSystem } from "../domain/plan.ts"
import { suppliesOf } from "../domain/plan-supplies.ts"
import { Refusal } from "../domain/refusal.ts"
import { withSubstitutes } from "../domain/substitutes.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import type { Studio } from "../ledger/studio.ts"
import {
  planSupply,
  resinSubstitutes,
  resinSystemById,
  substitutes,
  supplyById,
} from "../supplies/service.ts"
import { batchSubstitutes, type Chosen } from "./batch-plan.ts"
import { passesToFinish } from "./passes.ts"
import { type BatchProgress, batchProgress } from "./progress.ts"
import { type InsteadOf, type InsteadOfResin, measuresOf, needOf, type Say } from "./take.ts"

/**
 * A batch as it would be with other supplies or resins in place of some. Writes nothing.
 *
 * @throws {Refusal} the design does not use one; another is not allowed in its place
 */
export function withInsteadOf<Batch extends Pick<BatchProgress, "id" | "plan" | "next">>(
  studio: Studio,
  batch: Batch,
  choices: readonly InsteadOf[],
): Batch {
  if (choices.length === 0) return batch
  const known = batchSubstitutes(studio).get(batch.id)
  const chosen: Chosen = { supplies: new Map(known?.supplies), resins: new Map(known?.resins) }
  for (const choice of choices) choose(studio, batch.plan, choice, chosen)
  const plan = withSubstitutes(planOf(studio, batch.plan.versionId), chosen)
  const layer = plan.layers.find(({ position }) => position === batch.next?.layer.position)
  return { ...batch, plan, next: batch.next && layer ? { ...batch.next, layer } : batch.next }
}

/**
 * Writes down that a batch takes others in place of some, from now on.
 *
 * @returns the batch as it is then
 * @throws {Refusal} as `withInsteadOf`; or what is left to do cannot be worked out with another, see `layerNeed`
 */
export function writeInsteadOf(
  studio: Studio,
  now: Act,
  batch: BatchProgress,
  choices: readonly InsteadOf[],
): BatchProgress {
  const after = withInsteadOf(studio, batch, choices)
  for (const choice of choices) {
    const by = { action_id: now.actionId, batch_id: batch.id, substitute_id: choice.substituteId }
    if (isOfResin(choice)) now.file.insert("batch_resin_substitute", { ...by, system_id: choice.systemId })
    else {
      const ratioPpm = choice.substituteId === null ? 1e6 : (allowedRatio(studio, choice) ?? 1e6)
      now.file.insert("batch_substitute", { ...by, supply_id: choice.supplyId, ratio_ppm: ratioPpm })
    }
  }
  // refused here, or the batch's own page could not be shown any more; the design's own can always be gone back to
  if (choices.some(({ substituteId }) => substituteId !== null)) {
    const measures = measuresOf(studio)
    for (const pass of passesToFinish(after, [])) needOf(after.plan, pass, measures, [])
  }
  return after
}

/** Puts a choice among what was chosen. */
function choose(studio: Studio, plan: Plan, choice: InsteadOf, { supplies, resins }: Chosen): void {
  const own = ownName(plan, choice)
  const { substituteId } = choice
  if (isOfResin(choice)) {
    if (substituteId === null) resins.delete(choice.systemId)
    else if (resinSubstitutes(studio).get(choice.systemId)?.includes(substituteId))
      resins.set(choice.systemId, resinSystemById(studio, substituteId))
    else throw notAllowed(own, "resin system's")
    return
  }
  if (substituteId === null) {
    supplies.delete(choice.supplyId)
    return
  }
  const ratioPpm = allowedRatio(studio, choice)
  if (ratioPpm === undefined) throw notAllowed(own, "supply's")
  supplies.set(choice.supplyId, { supply: planSupply(supplyById(studio, substituteId)), ratioPpm })
}

function allowedRatio(studio: Studio, choice: Exclude<InsteadOf, InsteadOfResin>): number | undefined {
  return substitutes(studio)
    .get(choice.supplyId)
    ?.find((one) => one.supplyId === choice.substituteId)?.ratioPpm
}

function notAllowed(own: string, whose: string): Refusal {
  return new Refusal(
    `That may not be used in place of ${own}. Say so on the ${whose} page under Set up, or choose another.`,
    { status: 409 },
  )
}

/** What a design itself names and a choice is about. @throws {Refusal} it does not name it */
function ownName({ layers }: Plan, choice: InsteadOf): string {
  for (const use of layers.flatMap((layer) => layer.uses)) {
    if (isResin(use)) {
      const own = use.inPlaceOf ?? use.system
      if (isOfResin(choice) && own.id === choice.systemId) return own.name
    } else {
      const own = (use.inPlaceOf ?? use).supply
      if (!isOfResin(choice) && own.id === choice.supplyId) return own.name
    }
  }
  throw new Refusal(`That ${isOfResin(choice) ? "resin" : "supply"} is not in this design.`, { status: 409 })
}

/** What others are taken in place of in a batch, for its page. */
export function insteadOfOn({
  layers,
}: Pick<Plan, "layers">): { back: InsteadOf; own: string; other: string; ratio: string | null }[] {
  const found = new Map<string, { back: InsteadOf; own: string; other: string; ratio: string | null }>()
  for (const use of layers.flatMap((layer) => layer.uses)) {
    if (!use.inPlaceOf) continue
    const one = isResin(use)
      ? {
          back: { systemId: use.inPlaceOf.id, substituteId: null },
          own: use.inPlaceOf.name,
          other: use.system.name,
          ratio: ratioWords(use.system),
        }
      : {
          back: { supplyId: use.inPlaceOf.supply.id, substituteId: null },
          own: use.inPlaceOf.supply.name,
          other: use.supply.name,
          ratio: null,
        }
    found.set(choiceText(one.back), one)
  }
  return [...found.values()]
}

/** ", with Hard Gloss in place of Tumble Clear": what is chosen in one go with a step, at the end of what was done. */
export function insteadOfWords(plan: Pick<Plan, "layers">, choices: readonly InsteadOf[]): string {
  const chosen = new Set(
    choices
      .filter(({ substituteId }) => substituteId !== null)
      .map((choice) => choiceText({ ...choice, substituteId: null })),
  )
  const said = insteadOfOn(plan).filter(({ back }) => chosen.has(choiceText(back)))
  return said.map(({ own, other }) => `, with ${other} in place of ${own}`).join("")
}

/** "100 : 45 by weight". */
function ratioWords({ ratioA, ratioB, ratioBasis }: ResinSystem): string {
  return `${ratioA} : ${ratioB} by ${ratioBasis === "mass" ? "weight" : "volume"}`
}

/**
 * What was said of a resin's bottles says nothing any more where another resin is now taken in its place.
 *
 * @param plan the batch's, with what was chosen
 */
export function stillSaid({ file }: Studio, plan: Plan, say: Say): Say {
  if (!(say.insteadOf ?? []).some(isOfResin)) return say
  const used = suppliesOf(plan)
  const idle = file.allText<{ id: number; supplyId: number }>(
    `SELECT c.id, c.supply_id AS supplyId FROM container c JOIN resin_system r ON c.supply_id IN (r.part_a_supply_id, r.part_b_supply_id)
     WHERE c.id IN (SELECT value FROM json_each(?))`,
    [JSON.stringify((say.heldMore ?? []).map(({ containerId }) => containerId))],
  )
  const gone = new Set(idle.filter(({ supplyId }) => !used.has(supplyId)).map(({ id }) => id))
  return { ...say, heldMore: (say.heldMore ?? []).filter(({ containerId }) => !gone.has(containerId)) }
}

export function isOfResin(choice: InsteadOf): choice is InsteadOfResin {
  return "systemId" in choice
}

/** The choice as one word of a form: "12:15", "12:0" for the design's own; of a resin "resin:3:4". */
export function choiceText(choice: InsteadOf): string {
  const own = isOfResin(choice) ? `resin:${choice.systemId}` : choice.supplyId
  return `${own}:${choice.substituteId ?? 0}`
}

/** What `choiceText` writes, as a form may send it. */
export const CHOICE_TEXT = "(?:resin:)?[1-9]\\d{0,14}:\\d{1,15}"

/** @param text as `choiceText` writes it */
export function readChoice(text: string): InsteadOf {
  const [, resin, own, other] = /^(resin:)?(\d+):(\d+)$/.exec(text) ?? []
  const substituteId = Number(other) || null
  return resin ? { systemId: Number(own), substituteId } : { supplyId: Number(own), substituteId }
}

/** Takes another in place of something, in this batch alone and from now on; what it has had stays as it is. */
export function takeInsteadOf(
  studio: Studio,
  by: Actor,
  input: { batchId: number; choice: InsteadOf },
): Done<{ batchId: number }> {
  return act(studio, "substitute", by, input, (now) => {
    const { batchId, choice } = input
    const batch = batchProgress(studio, batchId)
    if (batch.next === null) throw new Refusal("No cup of this batch is in work any more.", { status: 409 })
    const own = ownName(batch.plan, choice)
    writeInsteadOf(studio, now, batch, [choice])
    const { substituteId } = choice
    if (substituteId === null) return { summary: `Batch ${batchId} takes ${own} again`, answer: { batchId } }
    const other = isOfResin(choice)
      ? resinSystemById(studio, substituteId).name
      : supplyById(studio, substituteId).name
    return { summary: `Batch ${batchId} takes ${other} in place of ${own}`, answer: { batchId } }
  })
}
