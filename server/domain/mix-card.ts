import { type AfterLayer, afterLayer, type LayerTimes } from "./after-layer.ts"
import { cautionsFor, type Hazard } from "./hazards.ts"
import { inOrder, isResin, layerNeed } from "./layers.ts"
import { sayFlag } from "./mixes.ts"
import type {
  BaseUnit,
  Draw,
  Layer,
  LayerKind,
  LayerNeed,
  Measures,
  MixFlag,
  Plan,
  PlannedMix,
  PlanSupply,
  SupplyKind,
  Use,
  Working,
} from "./plan.ts"
import { suppliesOf } from "./plan-supplies.ts"
import { DATA_SHEET_CELSIUS, potLifeWorking } from "./pot-life.ts"
import { type ScaleReading, scaleReadings } from "./scale-readings.ts"

/** What a maker works from at the bench: layer by layer, mix by mix. Amounts are what will be taken. */
export interface MixCard {
  designName: string
  versionNumber: number
  blank: string
  cups: number
  roomCelsius: number
  layers: readonly CardLayer[]
}

export interface CardLayer {
  layerId: number
  position: number
  kind: LayerKind
  name: string
  cups: number
  handsOnMin: number
  turnerMin: number
  mixes: readonly CardMix[]
  /** whatever does not go into a mix: sprays, sheets, wipes, gloves, the blanks */
  items: readonly CardItem[]
  /** for `items` alone; each mix has its own */
  cautions: readonly string[]
  /** the layer after it, or the full cure after the last one */
  next: AfterLayer
}

export interface CardMix {
  /** "Mix 1 of 2" */
  label: string
  system: { id: number; name: string; ratioBasis: "volume" | "mass"; ratioA: number; ratioB: number }
  parts: readonly [a: CardPart, b: CardPart]
  mixedUl: number
  ratioErrorPpm: number
  flag: MixFlag | null
  /** what to mind in measuring it out; null: nothing */
  warning: string | null
  /** glitter and pigment, in the order they go in */
  stirredIn: readonly CardItem[]
  /** the mixing cup, the stick */
  items: readonly CardItem[]
  /** null where it cannot be weighed, see `scaleReadings` */
  scale: readonly ScaleReading[] | null
  /** the cups it serves, counted from 1 in the order they are coated */
  cups: { count: number; from: number; to: number }
  mixingMin: number
  /** of this very mix, from the moment A meets B */
  potLifeMin: number
  potLife: Working
  /** to coat its cups */
  workMin: number
  cautions: readonly string[]
}

/** An amount to take, in the supply's base unit, and why so much. */
export interface CardItem {
  supplyId: number
  supply: string
  kind: SupplyKind
  baseUnit: BaseUnit
  amount: number
  /** of several cups, what each of them takes of it; null: it is not shared out by cups, or there is one cup */
  aCup: number | null
  working: Working
}

/** A or B: how it is measured by the maker's basis, and the other way where both densities are known. */
export interface CardPart extends CardItem {
  part: "A" | "B"
  measured: Measured
  also: Measured | null
}

export interface Measured {
  amount: number
  baseUnit: "uL" | "mg"
}

/** What a card is made with, beside the plan. */
export interface CardFacts {
  /** by supply id; a supply that is not there has none known */
  hazards: ReadonlyMap<number, readonly Hazard[]>
  /** when layers were begun, by position */
  times?: ReadonlyMap<number, LayerTimes>
}

/**
 * The card for cups that go through a plan together.
 *
 * @param measures decide the marks, the steps of the scale and the warmth of the room
 * @throws {Refusal} see `layerNeed`
 */
export function mixCard(plan: Plan, cups: number, measures: Measures, facts: CardFacts): MixCard {
  return {
    designName: plan.designName,
    versionNumber: plan.versionNumber,
    blank: plan.blank.supply.name,
    cups,
    roomCelsius: measures.roomCelsius ?? DATA_SHEET_CELSIUS,
    layers: inOrder(plan.layers).map((layer) =>
      layerCard(plan, layer, layerNeed(plan, layer, cups, measures), cups, measures, facts),
    ),
  }
}

/**
 * One layer of the card, from the very need that its amounts are taken by.
 *
 * @param need of `layer` for `cups`, as `layerNeed` gives it
 */
export function layerCard(
  plan: Plan,
  layer: Layer,
  need: LayerNeed,
  cups: number,
  measures: Measures,
  facts: CardFacts,
): CardLayer {
  const supplies = suppliesOf(plan)
  const items = need.draws
    .filter((draw) => draw.mix === null)
    .map((draw) => itemOf(draw, supplies, isByCup(layer, draw.supplyId) ? cups : 1))
  let served = 0
  const mixes = need.mixes.map((mix, index): CardMix => {
    // each resin of the layer goes round all the cups
    if (served >= cups) served = 0
    const from = served + 1
    served += mix.cups
    return {
      label: `Mix ${index + 1} of ${need.mixes.length}`,
      cups: { count: mix.cups, from, to: served },
      ...mixOf(layer, mix, draws(need, index), supplies, measures, facts),
    }
  })
  return {
    layerId: layer.id,
    position: layer.position,
    kind: layer.kind,
    name: layer.name,
    cups,
    handsOnMin: layer.handsOnMin,
    turnerMin: layer.turnerMin,
    mixes,
    items,
    cautions:
      items.length === 0 && mixes.length > 0 ? [] : cautionsOf(items, facts, { layerKind: layer.kind }),
    next: afterLayer(plan, layer, need, facts.times?.get(layer.position)),
  }
}

function draws(need: LayerNeed, mix: number): readonly Draw[] {
  return need.draws.filter((draw) => draw.mix === mix)
}

function mixOf(
  layer: Layer,
  mix: PlannedMix,
  itsDraws: readonly Draw[],
  supplies: ReadonlyMap<number, PlanSupply>,
  measures: Measures,
  facts: CardFacts,
): Omit<CardMix, "label" | "cups"> {
  const { system } = mix
  const drawA = itsDraws.find((draw) => draw.supplyId === system.partA.id)!
  const drawB = itsDraws.find((draw) => draw.supplyId === system.partB.id)!
  const others = itsDraws.filter((draw) => draw !== drawA && draw !== drawB)
  const stirred = others.filter((draw) => isStirredIn(layer, draw.supplyId))
  const items = itsDraws.map((draw) => itemOf(draw, supplies))
  return {
    system: {
      id: system.id,
      name: system.name,
      ratioBasis: system.ratioBasis,
      ratioA: system.ratioA,
      ratioB: system.ratioB,
    },
    parts: [partOf("A", mix, itemOf(drawA, supplies)), partOf("B", mix, itemOf(drawB, supplies))],
    mixedUl: mix.mixedUl,
    ratioErrorPpm: mix.ratioErrorPpm,
    flag: mix.flag,
    warning: sayFlag(mix),
    stirredIn: stirred.map((draw) => itemOf(draw, supplies)),
    items: others.filter((draw) => !stirred.includes(draw)).map((draw) => itemOf(draw, supplies)),
    scale: scaleReadings(
      mix,
      stirred.map(({ supplyId, amount }) => ({ supply: supplies.get(supplyId)!, amount })),
      measures.massStepMg,
    ),
    mixingMin: system.mixingMin,
    potLifeMin: mix.potLifeMin,
    potLife: potLifeWorking(system, mix.mixedUl, measures.roomCelsius),
    workMin: mix.workMin,
    cautions: cautionsOf(items, facts, { layerKind: layer.kind, mixes: [mix] }),
  }
}

/** Goes into the mixing cup with the resin, unlike the cup itself and the stick. */
function isStirredIn(layer: Layer, supplyId: number): boolean {
  return layer.uses.some(
    (use) =>
      !isResin(use) &&
      use.supply.id === supplyId &&
      (use.how === "per-resin" ||
        (use.how === "per-mix" && (use.supply.kind === "glitter" || use.supply.kind === "pigment"))),
  )
}

/** Every cup takes the same of it, unlike the gloves of a session. */
function isByCup(layer: Layer, supplyId: number): boolean {
  const own = layer.uses.filter((use) => !isResin(use) && use.supply.id === supplyId)
  return own.length > 0 && own.every(({ how }) => BY_CUP.has(how))
}

const BY_CUP: ReadonlySet<Use["how"]> = new Set(["per-cup", "per-area", "sprinkled", "spray-film"])

/** @param cups that share it */
function itemOf(
  { supplyId, amount, working }: Draw,
  supplies: ReadonlyMap<number, PlanSupply>,
  cups = 1,
): CardItem {
  const { name, kind, baseUnit } = supplies.get(supplyId)!
  const aCup = cups === 1 ? null : Math.round(amount / cups)
  return { supplyId, supply: name, kind, baseUnit, amount, aCup, working }
}

function partOf(part: "A" | "B", { measured, also }: PlannedMix, item: CardItem): CardPart {
  const one = (portions: typeof measured): Measured => ({
    amount: part === "A" ? portions.a : portions.b,
    baseUnit: portions.basis === "volume" ? "uL" : "mg",
  })
  return { ...item, part, measured: one(measured), also: also && one(also) }
}

function cautionsOf(
  items: readonly CardItem[],
  { hazards }: CardFacts,
  step: { layerKind: LayerKind; mixes?: readonly PlannedMix[] },
): readonly string[] {
  return cautionsFor(
    items.flatMap((item) => hazards.get(item.supplyId) ?? []),
    step,
  )
}
