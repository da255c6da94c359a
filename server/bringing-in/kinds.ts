import { Refusal } from "../domain/refusal.ts"
import type { Kind } from "./kind.ts"
import { OPENING_STOCK } from "./opening-stock.ts"
import { PACKS } from "./packs.ts"
import { SUPPLIERS } from "./suppliers.ts"
import { SUPPLIES } from "./supplies.ts"

/** What can be brought in, in the order in which each needs the one before. */
export const BRING_IN: readonly Kind[] = [SUPPLIERS, SUPPLIES, PACKS, OPENING_STOCK]

/** @throws {Refusal} 404: nothing of that name can be brought in */
export function kindNamed(name: string): Kind {
  const kind = BRING_IN.find((one) => one.name === name)
  if (!kind) throw new Refusal("There is no such page.", { status: 404 })
  return kind
}
