import { mixesOfLayer, type Pour } from "./layer-mixes.ts"
import { type ShelvedOffcut, withoutDrawn } from "./offcuts.ts"
import { checkPigment } from "./pigments.ts"
import type { Draw, Layer, LayerNeed, Measures, Plan, ResinUse, Use } from "./plan.ts"
import { coatedAreaMm2 } from "./profile.ts"
import { drawsOfSupply } from "./supply-draws.ts"
import { blankWorking, resinPartWorking, type Surface } from "./workings.ts"

/** How a layer is done this time. */
export interface Go {
  /** the batch has had this layer before, for other cups: what is used once a batch is not used again */
  again: boolean
  /** offcuts on the shelf, which pieces are cut from before a sheet is begun; left out: none */
  offcuts?: readonly ShelvedOffcut[]
}

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
 * @throws {Refusal} the blank, the layer's band or a use cannot be worked out; see `coatedAreaMm2`, `mixesOfLayer`,
 *   `pieceNeed`, `checkPigment`
 */
export function layerNeed(
  plan: Plan,
  layer: Layer,
  cups: number,
  measures: Measures,
  { again, offcuts = [] }: Go = { again: false },
): LayerNeed {
  if (!Number.isInteger(cups) || cups < 1) throw new RangeError(`a layer is put on whole cups, not ${cups}`)
  const { blank } = plan
  const surface: Surface = { mm2: coatedAreaMm2(blank, layer.band), isBand: layer.band !== null }
  checkPigment(layer, surface.mm2)
  const pours = mixesOfLayer(layer.uses.filter(isResin), surface.mm2, cups, measures)
  const mixes = pours.flatMap((pour) => pour.mixes)

  const draws: Draw[] = isFirst(plan, layer) ? [drawOfBlanks(plan, cups)] : []
  let firstMix = 0
  let resins = 0
  let stillThere = offcuts
  for (const use of layer.uses) {
    if (isResin(use)) {
      // coats that are mixed as one stand where the first of them is
      const pour = pours.find(({ at }) => at === resins)
      resins += 1
      if (!pour) continue
      draws.push(...drawsOfResin(pour, surface, firstMix, measures))
      firstMix += pour.mixes.length
    } else {
      const drawnFor = { blank, band: layer.band, surface, cups, mixes, again, offcuts: stillThere }
      const drawn = drawsOfSupply(use, drawnFor)
      stillThere = withoutDrawn(stillThere, drawn)
      draws.push(...drawn)
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

/** "layer 3, Clear coat": which of a plan's layers is meant, wherever it is not said by a heading. */
export function sayLayer({ position, name }: Pick<Layer, "position" | "name">): string {
  return `layer ${position}, ${name}`
}

/** Layers as they are put on. */
export function inOrder(layers: readonly Layer[]): Layer[] {
  return layers.toSorted((a, b) => a.position - b.position)
}

export function isResin(use: Use): use is ResinUse {
  return use.how === "resin-film" || use.how === "resin-mixed" || use.how === "resin-applied"
}

/** The blank itself goes with the first layer, so that a scrapped cup has used one. */
function isFirst(plan: Plan, layer: Layer): boolean {
  return plan.layers.every((other) => other.position >= layer.position)
}

function drawOfBlanks({ blank }: Plan, cups: number): Draw {
  return { supplyId: blank.supply.id, amount: cups, mix: null, working: blankWorking(blank.supply, cups) }
}

function drawsOfResin({ uses, mixes }: Pour, surface: Surface, firstMix: number, measures: Measures): Draw[] {
  const { partA, partB } = uses[0]!.system
  return mixes.flatMap((planned, nth) => {
    const mix = firstMix + nth
    const which = { nth: nth + 1, of: mixes.length }
    const workingA = resinPartWorking(uses, "A", planned, surface, measures, which)
    const workingB = resinPartWorking(uses, "B", planned, surface, measures, which)
    return [
      { supplyId: partA.id, amount: planned.partA, mix, working: workingA },
      { supplyId: partB.id, amount: planned.partB, mix, working: workingB },
    ]
  })
}
