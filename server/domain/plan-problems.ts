import { filmUm } from "./films.ts"
import { inOrder, isResin, layerNeed } from "./layers.ts"
import { sayFlag } from "./mixes.ts"
import { pigmentIn } from "./pigments.ts"
import type { AmountUse, Layer, Measures, Plan, SupplyUse } from "./plan.ts"
import { coatedAreaMm2 } from "./profile.ts"
import { Refusal, refusalOr } from "./refusal.ts"

/** Something about a plan: `stop` keeps it from being made, `warn` is for the person to judge. */
export interface PlanProblem {
  severity: "stop" | "warn"
  /** null when it is about the whole plan */
  layerPosition: number | null
  sentence: string
}

/** What one coat of resin usually leaves; above it, it tends to sag, run and heat up. Common practice, no source. */
const USUAL_FILM_UM = { from: 200, to: 1_000 }

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
    const area = refusalOr(() => coatedAreaMm2(plan.blank, layer.band))
    if (area instanceof Refusal) {
      say("stop", layer.position, area.message)
      continue
    }
    const stops = stopsOf(plan, layer, measures)
    for (const sentence of stops) say("stop", layer.position, sentence)
    if (stops.size > 0) continue
    for (const sentence of warningsOf(plan, layer, area, measures)) say("warn", layer.position, sentence)
  }
  return problems
}

/** Each use alone, so that all that is wrong is said at once, then all of them together. */
function stopsOf(plan: Plan, layer: Layer, measures: Measures): Set<string> {
  const stops = new Set<string>()
  const tryNeed = (uses: Layer["uses"]) => {
    const need = refusalOr(() => layerNeed(plan, { ...layer, uses }, 1, measures))
    if (need instanceof Refusal) stops.add(need.message)
  }
  for (const use of layer.uses) {
    if (!isResin(use)) for (const sentence of supplyStops(layer, use)) stops.add(sentence)
    tryNeed([use])
  }
  if (stops.size === 0) tryNeed(layer.uses)
  return stops
}

/** Cautions about a layer that can be worked out. */
function warningsOf(plan: Plan, layer: Layer, areaMm2: number, measures: Measures): Set<string> {
  const sentences = new Set<string>()
  for (const use of layer.uses.filter(isResin)) {
    const { system } = use
    const film = filmUm(use, areaMm2)
    if (film > USUAL_FILM_UM.to) {
      sentences.add(
        `A coat of ${system.name} ${millimetres(film)} mm thick is unusual: it can sag, run and heat up. ${millimetres(USUAL_FILM_UM.from)} to ${millimetres(USUAL_FILM_UM.to)} mm are usual (common practice, no source); two thinner coats are safer.`,
      )
    }
    if (layer.recoatEarliestMin < system.recoatEarliestMin) {
      sentences.add(`The next coat comes sooner than ${system.name} allows.`)
    }
    if (plan.fullCureMin < system.fullCureMin) {
      sentences.add(`The full cure is shorter than that of ${system.name}.`)
    }
  }
  for (const mix of layerNeed(plan, layer, 1, measures).mixes) {
    const flag = sayFlag(mix)
    if (flag !== null) sentences.add(flag)
  }
  const pigment = pigmentIn(layer, areaMm2)
  if (pigment?.lacks != null && pigment.mostPpm !== null) {
    sentences.add(
      `Whether the pigment is too much for the resin cannot be worked out: the density of ${pigment.lacks} is missing.`,
    )
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
      return amountStops(use)
    case "per-cup":
    case "per-area":
    case "sprinkled":
    case "per-batch":
    case "per-session":
      return amountStops(use)
    // what is wrong with these is refused where they are worked out
    case "spray-film":
    case "piece":
      return []
  }
}

function amountStops({ amount, sharePpm, supply }: AmountUse): string[] {
  if (!(amount > 0)) return [`Say how much ${supply.name} is used.`]
  return sharePpm > 0 ? [] : [`Give ${supply.name} a share of the surface above zero, or take it out.`]
}

function millimetres(um: number): string {
  return String(Number((um / 1000).toFixed(1)))
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
