import { filmUm } from "./films.ts"
import { inOrder, isResin, layerNeed, pieceMm2 } from "./layers.ts"
import { sayFlag } from "./mixes.ts"
import type { Layer, Measures, Plan, ResinUse, SupplyUse } from "./plan.ts"
import { coatedAreaMm2 } from "./profile.ts"
import { Refusal } from "./refusal.ts"

/** Something about a plan: `stop` keeps it from being made, `warn` is for the person to judge. */
export interface PlanProblem {
  severity: "stop" | "warn"
  /** null when it is about the whole plan */
  layerPosition: number | null
  sentence: string
}

/** Above this one coat tends to sag and heat up on a cup. Common practice, no source. */
const USUAL_FILM_UM = 1_000

/** Coatings are kept this far from where lips touch. Common practice, no source. */
const USUAL_BARE_LIP_UM = 10_000

/**
 * Everything about a plan that stops it or is worth a look, whole plan first, then layer by layer.
 * An empty list: it can be made as it stands.
 *
 * @param measures what the maker can measure: decides whether a mix for one cup can keep its ratio
 */
export function planProblems(plan: Plan, measures: Measures): PlanProblem[] {
  const problems: PlanProblem[] = []
  const say = (severity: PlanProblem["severity"], layerPosition: number | null, sentence: string) =>
    problems.push({ severity, layerPosition, sentence })

  if (plan.layers.length === 0) say("stop", null, "This design has no layers yet; add the first one.")
  const area = refusalOr(() => coatedAreaMm2(plan.blank))
  if (area instanceof Refusal) {
    say("stop", null, area.message)
    return problems
  }
  if (plan.blank.bareLipUm < USUAL_BARE_LIP_UM && plan.layers.some(coats)) {
    say(
      "warn",
      null,
      "Less than 10 mm is left bare below the lip. Keep coatings away from where lips touch, and follow the product's safety data sheet.",
    )
  }
  for (const layer of inOrder(plan.layers)) {
    const refusals = new Set<string>()
    for (const use of layer.uses) {
      const alone = refusalOr(() => layerNeed(plan, { ...layer, uses: [use] }, 1, measures))
      if (alone instanceof Refusal) refusals.add(alone.message)
    }
    for (const sentence of refusals) say("stop", layer.position, sentence)
    if (refusals.size > 0) continue
    for (const use of layer.uses) {
      const [severity, sentences] = isResin(use)
        ? (["warn", resinWarnings(plan, layer, use, area, measures)] as const)
        : (["stop", supplyStops(layer, use)] as const)
      for (const sentence of sentences) say(severity, layer.position, sentence)
    }
  }
  return problems
}

/** Cautions about a coat of mixed resin that can be worked out. */
function resinWarnings(
  plan: Plan,
  layer: Layer,
  use: ResinUse,
  areaMm2: number,
  measures: Measures,
): string[] {
  const { system } = use
  const sentences: string[] = []
  const film = filmUm(use, areaMm2)
  if (film > USUAL_FILM_UM) {
    sentences.push(
      `A coat of ${system.name} ${(film / 1000).toFixed(1)} mm thick is unusual: it can sag and heat up. Two thinner coats are safer.`,
    )
  }
  if (layer.recoatEarliestMin < system.recoatEarliestMin) {
    sentences.push(`The next coat comes sooner than ${system.name} allows.`)
  }
  if (plan.fullCureMin < system.fullCureMin) {
    sentences.push(`The full cure is shorter than that of ${system.name}.`)
  }
  const { mixes } = layerNeed(plan, { ...layer, uses: [use] }, 1, measures)
  for (const mix of mixes) {
    const flagged = sayFlag(mix)
    if (flagged !== null) sentences.push(flagged)
  }
  return sentences
}

/** What would quietly take nothing. */
function supplyStops(layer: Layer, use: SupplyUse): string[] {
  const { name } = use.supply
  switch (use.how) {
    case "per-mix":
    case "per-resin":
      if (!layer.uses.some(isResin)) {
        return [`${name} goes with mixed resin, but nothing is mixed in “${layer.name}”.`]
      }
      return use.amount > 0 ? [] : [`Say how much ${name} is used.`]
    case "per-cup":
    case "per-area":
    case "per-batch":
      return use.amount > 0 ? [] : [`Say how much ${name} is used.`]
    case "piece":
      return pieceMm2(use) > 0 ? [] : [`Say how wide and how high the piece of ${name} is.`]
  }
}

/** Whether a layer puts on something that must stay away from the lip. */
function coats(layer: Layer): boolean {
  return layer.uses.some(
    (use) =>
      isResin(use) ||
      use.supply.kind === "paint" ||
      use.supply.kind === "resin" ||
      use.supply.kind === "vinyl",
  )
}

function refusalOr<T>(work: () => T): T | Refusal {
  try {
    return work()
  } catch (error) {
    if (error instanceof Refusal) return error
    throw error
  }
}
