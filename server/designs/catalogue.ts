import { madeOf } from "../../db/made-of.ts"
import type { Blank, PlanSupply, ResinSystem } from "../domain/plan.ts"
import type { Studio } from "../ledger/studio.ts"
import { blanks, planSupplies, resinSystems } from "../supplies/service.ts"

/** What plans are built from. Read once, then any number of plans come from it without a query. */
export interface Catalogue {
  supplies: ReadonlyMap<number, PlanSupply>
  systems: ReadonlyMap<number, ResinSystem>
  blanks: ReadonlyMap<number, Blank>
}

export function readCatalogue(studio: Studio): Catalogue {
  const supplies = planSupplies(studio)
  return catalogueOf(studio.file, supplies, resinSystems(studio, supplies), blanks(studio, supplies))
}

const catalogueOf = madeOf(
  (
    supplies: Catalogue["supplies"],
    systems: readonly ResinSystem[],
    shaped: readonly Blank[],
  ): Catalogue => ({
    supplies,
    systems: new Map(systems.map((system) => [system.id, system])),
    blanks: new Map(shaped.map((blank) => [blank.supply.id, blank])),
  }),
)
