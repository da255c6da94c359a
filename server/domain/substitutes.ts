import type { Draw, InPlaceOf, Plan, PlanSupply, SupplyUse, Working } from "./plan.ts"

/** What is taken in place of a supply, and how much of it stands for 1 of that, in millionths. */
export interface Substitute {
  supply: PlanSupply
  ratioPpm: number
}

/**
 * A plan that takes other supplies in place of its own. Everything that is worked out from it (amounts, hazards,
 * names, the forecast) is then of what is really used.
 *
 * A blank and the parts of a resin are never replaced: another cup has another surface, and a part A sets only with
 * its own part B.
 *
 * @param substitutes by the id of the supply they stand in for; none: the same plan
 */
export function withSubstitutes(plan: Plan, substitutes: ReadonlyMap<number, Substitute>): Plan {
  if (substitutes.size === 0) return plan
  return {
    ...plan,
    layers: plan.layers.map((layer) => ({
      ...layer,
      uses: layer.uses.map((use) => {
        const other = "system" in use ? undefined : substitutes.get(use.supply.id)
        if ("system" in use || !other) return use
        return {
          ...use,
          supply: other.supply,
          inPlaceOf: { supply: use.supply, ratioPpm: other.ratioPpm },
        }
      }),
    })),
  }
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
