import { type CoatFilms, coatFilms } from "../domain/coat-films.ts"
import { cupParts } from "../domain/cup-parts.ts"
import { cautionsFor, type Hazard, isHazard, sayHazards } from "../domain/hazards.ts"
import { inOrder, layerNeed } from "../domain/layers.ts"
import type { BaseUnit, Layer, LayerNeed, Plan, SupplyKind } from "../domain/plan.ts"
import { type PlanTimes, planTimes } from "../domain/plan-times.ts"
import { coatedAreaMm2 } from "../domain/profile.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type Supply, suppliesList } from "../supplies/service.ts"
import { type UnitCost, unitCosts } from "./costs.ts"
import { planOf } from "./plans.ts"

/** How much of one supply all layers take, and what that costs. */
export interface SupplyTotal {
  supplyId: number
  supply: string
  kind: SupplyKind
  baseUnit: BaseUnit
  colour: string | null
  /** for all cups */
  amount: number
  /** the least and the most that one of them has of it; parts of cups add up to the amount */
  aCup: { least: number; most: number }
  costMicro: number | null
  priced: UnitCost["from"] | null
}

export interface LayerPerCup {
  layer: Layer
  need: LayerNeed
  /** what it leaves on one cup */
  films: CoatFilms
  /** the hazard classes of what it takes, in a few words each, gravest first */
  hazards: readonly string[]
  cautions: readonly string[]
}

/** What a design takes: amounts, money and time for some cups made together. */
export interface PerCup {
  plan: Plan
  cups: number
  layers: readonly LayerPerCup[]
  totals: readonly SupplyTotal[]
  /** for all cups; what has no price is not in it */
  materialsMicro: number
  /** for all cups: hands-on minutes are counted by the cup */
  labourMicro: number
  times: PlanTimes
}

/**
 * What a version takes for some cups made together. What is used up once a mix or once a batch weighs less on
 * each cup the more there are.
 *
 * @param cups at least one
 * @throws {Refusal} no such version, or a plan that can no longer be made as it stands (see `planProblems`)
 */
export function perCup(studio: Studio, versionId: number, cups = 1): PerCup {
  const plan = planOf(studio, versionId)
  const { labourMicroPerHour, volumeStepUl, massStepMg } = settingsOf(studio)
  const supplies = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
  const layers = inOrder(plan.layers).map((layer): LayerPerCup => {
    const need = layerNeed(plan, layer, cups, { volumeStepUl, massStepMg })
    return {
      layer,
      need,
      films: coatFilms(layer, {
        mm2: coatedAreaMm2(plan.blank, layer.band),
        isBand: layer.band !== null,
      }),
      ...careFor(layer, need, supplies),
    }
  })
  const totals = addUp(layers, cups, supplies, unitCosts(studio))
  const times = planTimes(plan)
  return {
    plan,
    cups,
    layers,
    totals,
    materialsMicro: totals.reduce((sum, total) => sum + (total.costMicro ?? 0), 0),
    labourMicro: Math.round((labourMicroPerHour * times.handsOnMin * cups) / 60),
    times,
  }
}

function careFor(layer: Layer, need: LayerNeed, supplies: ReadonlyMap<number, Supply>) {
  const hazards = new Set<Hazard>(
    need.draws.flatMap((draw) => supplies.get(draw.supplyId)?.hazards ?? []).filter(isHazard),
  )
  return {
    hazards: sayHazards(hazards),
    cautions: cautionsFor(hazards, { layerKind: layer.kind, mixes: need.mixes }),
  }
}

/** Every supply once, in the order it is first taken. */
function addUp(
  layers: readonly LayerPerCup[],
  cups: number,
  supplies: ReadonlyMap<number, Supply>,
  costs: ReadonlyMap<number, UnitCost>,
): SupplyTotal[] {
  const parts = new Map<number, number[]>()
  for (const { need } of layers) {
    for (const [supplyId, own] of cupParts(need, cups)) {
      const known = parts.get(supplyId)
      parts.set(supplyId, known ? known.map((part, cup) => part + own[cup]!) : own)
    }
  }
  return [...parts].map(([supplyId, ofCups]) => {
    const amount = ofCups.reduce((sum, part) => sum + part, 0)
    const { name, kind, baseUnit, colour } = supplies.get(supplyId)!
    const cost = costs.get(supplyId)
    return {
      supplyId,
      supply: name,
      kind,
      baseUnit,
      colour,
      amount,
      aCup: { least: Math.min(...ofCups), most: Math.max(...ofCups) },
      costMicro: cost === undefined ? null : Math.round(cost.micro * amount),
      priced: cost?.from ?? null,
    }
  })
}
