import type { Studio } from "../ledger/studio.ts"
import { shoppingList } from "../purchasing/service.ts"
import { address } from "./address.ts"
import { expectedIn } from "./awaited.ts"
import type { Delivery } from "./deliveries.ts"
import { confirmAddress, expectedWords } from "./delivery-page.ts"

/** What a delivery may bring, to tap one after the other: what is ordered, and what stands on the shopping list. */
export function listPage(studio: Studio, delivery: Delivery) {
  const ordered = expectedIn(studio, delivery.id, delivery.sellerId)
  const known = new Set(ordered.map((one) => one.packId))
  const wanted = shoppingList(studio)
    .sellers.filter((list) => delivery.sellerId === null || list.sellerId === delivery.sellerId)
    .flatMap((list) => list.lines)
    .filter((line) => !known.has(line.packId))
  const left = ordered.filter((one) => one.missing > 0).length
  return {
    title: "From the list",
    lead:
      ordered.length + wanted.length === 0
        ? "Nothing is ordered here, and nothing stands on the shopping list."
        : `${left} ordered and still to come; ${wanted.length} more on the shopping list.`,
    back: { to: address("/receive", { delivery: delivery.id }), label: "Delivery" },
    ordered: ordered.map((one) => ({
      to: confirmAddress(delivery.id, one.packId),
      name: one.pack,
      words: expectedWords(one),
    })),
    wanted: wanted.map((line) => ({
      to: confirmAddress(delivery.id, line.packId),
      name: line.pack,
      words: `${line.count} wanted`,
    })),
  }
}
