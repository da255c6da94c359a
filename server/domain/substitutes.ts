import type {
  Draw,
  InPlaceOf,
  Layer,
  Plan,
  PlanSupply,
  ResinSystem,
  SupplyUse,
  Use,
  Working,
} from "./plan.ts"
import { tightest } from "./recoat-limits.ts"

/** What is taken in place of a supply, and how much of it stands for 1 of that, in millionths. */
export interface Substitute {
  supply: PlanSupply
  ratioPpm: number
}

/** What is taken in place of a design's own, by the id of what it stands in for. */
export interface Substitutes {
  supplies: ReadonlyMap<number, Substitute>
  /** whole resins: part A sets only with its own part B */
  resins: ReadonlyMap<number, ResinSystem>
}

/**
 * A plan that takes other supplies and resins in place of its own. Everything that is worked out from it (amounts,
 * mixes, pot lives, hazards, names, the forecast) is then of what is really used.
 *
 * A resin stands in whole, as much of it mixed as of the other: its ratio, largest mix, pot life and most pigment
 * hold. The layer keeps its hands-on and turner minutes. Its next coat may go on when both the design and the other
 * resin allow it, and must before the first of their limits that are known; the full cure is the longer of the plan's
 * and the other resin's.
 *
 * A blank and one part of a resin alone are never replaced: another cup has another surface, and a part A sets only
 * with its own part B.
 *
 * @param substitutes none: the same plan
 */
export function withSubstitutes(
  plan: Plan,
  { supplies = new Map(), resins = new Map() }: Partial<Substitutes>,
): Plan {
  if (supplies.size === 0 && resins.size === 0) return plan
  const layers = plan.layers.map((layer) =>
    withinLimits({ ...layer, uses: layer.uses.map((use) => standIn(use, { supplies, resins })) }),
  )
  const cures = layers.flatMap(standingIn).map((system) => system.fullCureMin)
  return { ...plan, layers, fullCureMin: Math.max(plan.fullCureMin, ...cures) }
}

function standIn(use: Use, { supplies, resins }: Substitutes): Use {
  if ("system" in use) {
    const system = resins.get(use.system.id)
    return system ? { ...use, system, inPlaceOf: use.system } : use
  }
  const other = supplies.get(use.supply.id)
  if (!other) return use
  return { ...use, supply: other.supply, inPlaceOf: { supply: use.supply, ratioPpm: other.ratioPpm } }
}

function withinLimits(layer: Layer): Layer {
  const { recoatEarliestMin, recoatLatestMin } = tightest([layer, ...standingIn(layer)])
  return { ...layer, recoatEarliestMin, recoatLatestMin }
}

/** The resins of a layer that stand in for another. */
function standingIn({ uses }: Layer): ResinSystem[] {
  return uses.flatMap((use) => ("system" in use && use.inPlaceOf ? [use.system] : []))
}

/**
 * Draws of a use as they are of what stands in: so much more or less of it, rounded up, so that it is enough. A piece
 * keeps its size, whatever sheet it is cut from.
 */
export function inPlace(draws: readonly Draw[], { how, inPlaceOf }: SupplyUse): Draw[] {
  if (!inPlaceOf) return [...draws]
  const ratioPpm = how === "piece" ? 1e6 : inPlaceOf.ratioPpm
  return draws.map((draw) => {
    const amount = substituteAmount(draw.amount, ratioPpm)
    return { ...draw, amount, working: replaced(draw.working, amount, { ...inPlaceOf, ratioPpm }) }
  })
}

/** How much of a substitute stands for an amount, rounded up to whole base units. */
export function substituteAmount(amount: number, ratioPpm: number): number {
  // a billionth is the computer's error
  return Math.ceil(((amount * ratioPpm) / 1e6) * (1 - 1e-9))
}

function replaced(working: Working, amount: number, { supply, ratioPpm }: InPlaceOf): Working {
  const title = `${working.title}, in place of ${supply.name}`
  if (ratioPpm === 1e6) return { ...working, title }
  return {
    title,
    formula: `(${working.formula}) × as much of it for 1, rounded up`,
    inputs: [
      ...working.inputs,
      { name: "as much of it for 1", value: ratioPpm / 1e6, unit: "", from: "supply" },
    ],
    result: { ...working.result, value: amount },
  }
}
