import { planMixes } from "./mixes.ts"
import type { Draw, Layer, LayerNeed, Measures, Plan, PlannedMix, ResinUse, SupplyUse, Use } from "./plan.ts"
import { coatedAreaMm2 } from "./profile.ts"
import { Refusal } from "./refusal.ts"
import { blankWorking, resinPartWorking, supplyWorking } from "./workings.ts"

/**
 * What one layer takes for a number of cups, each amount explained: the blanks if it is the plan's first
 * layer, then its uses in order.
 *
 * Mixed resin comes as A and B of each mix, in what the maker can measure. Everything else is worked out for
 * all cups together and rounded once, so that six cups at 0.4 mL take 2.4 mL. What is stirred in, and what is
 * used up once a mix, belongs to a mix of the layer. An amount that comes to nothing is left out.
 *
 * @param layer a layer of `plan`
 * @param cups cups coated in one go, at least one
 * @throws {Refusal} the blank or a use cannot be worked out; see `coatedAreaMm2`, `planMixes`, `pieceMm2`
 */
export function layerNeed(plan: Plan, layer: Layer, cups: number, measures: Measures): LayerNeed {
  if (!Number.isInteger(cups) || cups < 1) throw new RangeError(`a layer is put on whole cups, not ${cups}`)
  const areaMm2 = coatedAreaMm2(plan.blank)
  const mixesOf = layer.uses.map((use) => (isResin(use) ? planMixes(use, areaMm2, cups, measures) : []))
  const mixes = mixesOf.flat()

  const draws: Draw[] = isFirst(plan, layer) ? [drawOfBlanks(plan, cups)] : []
  let firstMix = 0
  for (const [nth, use] of layer.uses.entries()) {
    if (isResin(use)) {
      draws.push(...drawsOfResin(use, areaMm2, mixesOf[nth]!, firstMix, measures))
      firstMix += mixesOf[nth]!.length
    } else {
      draws.push(...drawsOfSupply(use, areaMm2, cups, mixes))
    }
  }
  return {
    layerId: layer.id,
    position: layer.position,
    mixes,
    system: mixes[0]?.system ?? null,
    draws: draws.filter((draw) => draw.amount > 0),
  }
}

/** What every layer takes, first to last, for cups that go through the plan together. See `layerNeed`. */
export function planNeed(plan: Plan, cups: number, measures: Measures): LayerNeed[] {
  return inOrder(plan.layers).map((layer) => layerNeed(plan, layer, cups, measures))
}

/** Adds up needs by supply: supply id to amount in its base unit. */
export function needTotals(needs: readonly LayerNeed[]): Map<number, number> {
  const totals = new Map<number, number>()
  for (const { draws } of needs) {
    for (const { supplyId, amount } of draws) totals.set(supplyId, (totals.get(supplyId) ?? 0) + amount)
  }
  return totals
}

/** Layers as they are put on. */
export function inOrder(layers: readonly Layer[]): Layer[] {
  return layers.toSorted((a, b) => a.position - b.position)
}

export function isResin(use: Use): use is ResinUse {
  return use.how === "resin-film" || use.how === "resin-mixed" || use.how === "resin-applied"
}

/**
 * Sheet that a piece takes, mm²: width × height, its own amount not asked for.
 *
 * @throws {Refusal} no width or height, or a supply that is not counted by area
 */
export function pieceMm2({ supply, widthUm, heightUm }: SupplyUse): number {
  if (supply.baseUnit !== "mm2") {
    throw new Refusal(
      `${supply.name} is not counted by area; give its length or number a cup instead of a piece.`,
    )
  }
  if (!widthUm || !heightUm) throw new Refusal(`Say how wide and how high the piece of ${supply.name} is.`)
  return (widthUm / 1000) * (heightUm / 1000)
}

/** The blank itself goes with the first layer, so that a scrapped cup has used one. */
function isFirst(plan: Plan, layer: Layer): boolean {
  return plan.layers.every((other) => other.position >= layer.position)
}

function drawOfBlanks({ blank }: Plan, cups: number): Draw {
  return { supplyId: blank.supply.id, amount: cups, mix: null, working: blankWorking(blank.supply, cups) }
}

function drawsOfResin(
  use: ResinUse,
  areaMm2: number,
  mixes: readonly PlannedMix[],
  firstMix: number,
  measures: Measures,
): Draw[] {
  const { partA, partB } = use.system
  return mixes.flatMap((planned, nth) => {
    const mix = firstMix + nth
    const which = { nth: nth + 1, of: mixes.length }
    const workingA = resinPartWorking(use, "A", planned, areaMm2, measures, which)
    const workingB = resinPartWorking(use, "B", planned, areaMm2, measures, which)
    return [
      { supplyId: partA.id, amount: planned.partA, mix, working: workingA },
      { supplyId: partB.id, amount: planned.partB, mix, working: workingB },
    ]
  })
}

function drawsOfSupply(use: SupplyUse, areaMm2: number, cups: number, mixes: readonly PlannedMix[]): Draw[] {
  const share = use.sharePpm / 1e6
  const forAll = { cups, areaMm2, mixedUl: 0 }
  switch (use.how) {
    case "per-cup":
      return [drawOf(use, cups * use.amount * share, null, forAll)]
    case "per-area":
      return [drawOf(use, cups * (areaMm2 / 1e6) * use.amount * share, null, forAll)]
    case "piece":
      return [drawOf(use, cups * pieceMm2(use), null, forAll)]
    case "per-batch":
      return [drawOf(use, use.amount, null, forAll)]
    case "per-mix":
      return mixes.map((mix, nth) => drawOf(use, use.amount, nth, { ...mix, areaMm2 }))
    case "per-resin":
      return mixes.map((mix, nth) => drawOf(use, (mix.mixedUl / 1e6) * use.amount, nth, { ...mix, areaMm2 }))
  }
}

function drawOf(
  use: SupplyUse,
  exact: number,
  mix: number | null,
  servedBy: { cups: number; areaMm2: number; mixedUl: number },
): Draw {
  const amount = whole(exact, use)
  return { supplyId: use.supply.id, amount, mix, working: supplyWorking(use, amount, servedBy) }
}

/** To the nearest base unit; pieces up, since half a glove is a glove. A billionth is the computer's error. */
function whole(exact: number, { supply }: SupplyUse): number {
  return supply.baseUnit === "each" ? Math.ceil(exact * (1 - 1e-9)) : Math.round(exact)
}
