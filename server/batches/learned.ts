import { designs, editorWith, plansOf } from "../designs/service.ts"
import { isResin } from "../domain/layers.ts"
import {
  type Bias,
  FEWEST,
  learn,
  offeredAmount,
  offeredDripPpm,
  offeredTransferPpm,
} from "../domain/learning.ts"
import type { Layer, Measures, Plan, Use } from "../domain/plan.ts"
import type { Studio } from "../ledger/studio.ts"
import { type Measurable, type Occasion, occasions, usesOf } from "./occasions.ts"
import { measuresOf } from "./take.ts"

/** What measuring says of one kind of layer and what it takes there. */
export interface Learned extends Measurable {
  bias: Bias
  /** for designs whose latest version still plans as before */
  offers: Offer[]
}

/** A corrected figure for a design's next version. Never applied by itself. */
export interface Offer {
  design: string
  layer: string
  /** the design's editor with the figure filled in */
  to: string
  change: OfferedChange
}

/** Amounts in base units or µm of a film, parts in ppm. */
export interface OfferedChange {
  what: "amount" | "film" | "drip" | "transfer"
  from: number
  to: number
}

/**
 * What the bench says of the plans: planned against actual by kind of layer and supply, with corrected figures on
 * offer. Occasions planned with figures that the design has changed since do not count any more.
 */
export function learned(studio: Studio): Learned[] {
  const measures = measuresOf(studio)
  const latest = designs(studio)
  const all = occasions(studio)
  const plans = plansOf(studio, [
    ...new Set([...all.map((one) => one.versionId), ...latest.map((design) => design.versionId)]),
  ])
  const latestOf = new Map(latest.map((design) => [design.designId, plans.get(design.versionId)!]))
  const stillPlanned = (one: Occasion) => {
    const now = latestOf.get(one.designId)
    return now !== undefined && figures(now, one) === figures(plans.get(one.versionId)!, one)
  }
  const groups = new Map<string, Occasion[]>()
  for (const one of all) {
    const key = `${one.kind} ${one.what} ${one.id}`
    groups.set(key, [...(groups.get(key) ?? []), one])
  }
  return [...groups.values()].map((group) => {
    const current = group.filter(stillPlanned)
    const of = group[0]!
    const bias = learn(current.map((one) => one.sample))
    const offers = latest.flatMap(({ designId, name }) => {
      const mine = group.filter((one) => one.designId === designId)
      const own = mine.filter(stillPlanned)
      // a design's own measures say most; one that was corrected waits for its own
      const says =
        own.length >= FEWEST ? learn(own.map((one) => one.sample)) : mine.length > own.length ? null : bias
      return says === null ? [] : offersFor(designId, name, latestOf.get(designId)!, of, says, measures)
    })
    return { kind: of.kind, what: of.what, id: of.id, bias, offers }
  })
}

/** What a plan says of something in a kind of layer, to tell whether it was changed. */
function figures(plan: Plan, of: Measurable): string {
  return JSON.stringify(
    usesOf(plan, of).map(({ use }) => {
      if (!isResin(use)) {
        const { supply: _supply, ...rest } = use
        return rest
      }
      const { system: _system, ...rest } = use
      return rest
    }),
  )
}

function offersFor(
  designId: number,
  design: string,
  plan: Plan,
  of: Measurable,
  bias: Bias,
  measures: Measures,
): Offer[] {
  return usesOf(plan, of).flatMap(({ layer, use, place }) => {
    const change = changeOf(use, bias, measures)
    return change === null || change.to === change.from
      ? []
      : [{ design, layer: layer.name, change, to: linkTo(designId, layer, place, change) }]
  })
}

function linkTo(designId: number, layer: Layer, place: number, { what, to }: OfferedChange): string {
  return editorWith(designId, {
    layer: layer.position,
    use: place,
    change: { what: what === "film" ? "amount" : what, to },
  })
}

/**
 * The figure of a use that a bias corrects, rounded to what can be measured; null when there is nothing to
 * correct.
 */
function changeOf(use: Use, bias: Bias, { volumeStepUl, massStepMg }: Measures): OfferedChange | null {
  const changed = (what: OfferedChange["what"], from: number, to: number | null, step: number) =>
    to === null ? null : { what, from, to: Math.max(step, Math.round(to / step) * step) }
  switch (use.how) {
    case "resin-film": {
      const drip = offeredDripPpm(bias, use.dripPpm)
      // less is poured than the film holds: then the film is thinner than planned
      return drip === null
        ? changed("film", use.amount, offeredAmount(bias, use.amount), 1)
        : changed("drip", use.dripPpm, drip, PART_STEP_PPM)
    }
    case "resin-mixed": {
      const corrected = offeredAmount(bias, use.amount - use.residueUl)
      const amount = corrected === null ? null : corrected + use.residueUl
      return changed("amount", use.amount, amount, volumeStepUl)
    }
    case "resin-applied":
      return changed("amount", use.amount, offeredAmount(bias, use.amount), volumeStepUl)
    case "per-cup":
    case "per-area":
    case "sprinkled":
    case "per-resin":
    case "per-mix":
    case "per-batch":
    case "per-session": {
      const step = { uL: volumeStepUl, mg: massStepMg, um: 1, mm2: 1, each: 1 }[use.supply.baseUnit]
      return changed("amount", use.amount, offeredAmount(bias, use.amount), step)
    }
    case "spray-film":
      return changed("transfer", use.transferPpm, offeredTransferPpm(bias, use.transferPpm), PART_STEP_PPM)
    case "piece":
      return null
  }
}

/** Parts are said to a tenth of a percent. */
const PART_STEP_PPM = 1_000
