import { Refusal } from "../domain/refusal.ts"
import type { Act } from "../ledger/act.ts"
import { addMeasured } from "../ledger/cups.ts"
import { containerById } from "../ledger/move.ts"
import { bringEachTo } from "./came-from.ts"
import type { WrittenCoat } from "./coats.ts"

/** Containers of one supply, each weighed before and after a coat: what each of them gave, in base units. */
export interface EachWeighed {
  coatId: number
  supplyId: number
  given: readonly { containerId: number; amount: number }[]
  /** of the first of them on the page */
  field: string
}

/**
 * Keeps what containers that were weighed each by itself gave to a coat: together it is what the coat took, and each
 * is brought to its own. One that gave by the book and was not weighed gave nothing.
 *
 * @throws {Refusal} the coat did not use the supply, another supply's container, or one does not hold it by the book
 */
export function keepEach(now: Act, coat: WrittenCoat, weighed: EachWeighed, heldMore: boolean): void {
  const { supplyId, given, field } = weighed
  const uses = coat.uses.filter((use) => use.supplyId === supplyId)
  const [use] = uses
  if (!use) throw new Refusal("Something was weighed that this coat did not use.", { status: 409 })
  for (const { containerId } of given) {
    const { code, supply, supply_id } = containerById(now, containerId)
    if (supply_id !== supplyId) throw new Refusal(`${code} holds ${supply}, not ${use.supply}.`, { field })
  }
  const total = given.reduce((sum, { amount }) => sum + amount, 0)
  addMeasured(now, coat.coatId, supplyId, total, "weighed")
  const ids = new Set([...uses, ...given].map(({ containerId }) => containerId))
  const containers = [...ids].map((containerId) => ({
    containerId,
    booked: uses.find((one) => one.containerId === containerId)?.amount ?? 0,
    gave: given.find((one) => one.containerId === containerId)?.amount ?? 0,
  }))
  bringEachTo(now, coat, containers, { heldMore, basis: "weighed" })
}
