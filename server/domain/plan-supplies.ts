import { isResin } from "./layers.ts"
import type { Plan, PlanSupply } from "./plan.ts"

/** Every supply that a plan takes, the blank included, by its id. */
export function suppliesOf({ blank, layers }: Plan): ReadonlyMap<number, PlanSupply> {
  const uses = layers.flatMap((layer) => layer.uses)
  const supplies = uses.flatMap((use) => (isResin(use) ? [use.system.partA, use.system.partB] : [use.supply]))
  return new Map([blank.supply, ...supplies].map((supply) => [supply.id, supply]))
}
