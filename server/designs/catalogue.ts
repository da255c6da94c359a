import type { Blank, PlanSupply, ResinSystem } from "../domain/plan.ts"
import type { Studio } from "../ledger/studio.ts"
import { blanks, planSupply, resinSystems, suppliesList } from "../supplies/service.ts"

/** What plans are built from. Read once, then any number of plans come from it without a query. */
export interface Catalogue {
  supplies: ReadonlyMap<number, PlanSupply>
  systems: ReadonlyMap<number, ResinSystem>
  blanks: ReadonlyMap<number, Blank>
}

export function readCatalogue(studio: Studio): Catalogue {
  const supplies = suppliesList(studio)
  return {
    supplies: new Map(supplies.map((supply) => [supply.id, planSupply(supply)])),
    systems: new Map(resinSystems(studio, supplies).map((system) => [system.id, system])),
    blanks: new Map(blanks(studio, supplies).map((blank) => [blank.supply.id, blank])),
  }
}
