import type { SupplyKind } from "../domain/plan.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { type PackInfo, suppliesList } from "../supplies/service.ts"
import type { IconName } from "../web/icons.ts"

/**
 * What one pack probably costs: this seller's price, or what was paid last, or what another seller asks.
 *
 * @returns micro, or null when nothing is known
 */
export function likelyPrice(studio: Studio, pack: PackInfo, sellerId: number | null): number | null {
  const own = pack.offers.find((offer) => offer.sellerId === sellerId)
  if (own) return own.priceMicro
  const paid = studio.file.firstText<{ price: number }>(
    `SELECT l.price_micro AS price FROM receipt_line l WHERE l.pack_id = ? AND l.price_micro > 0 AND ${stands("l.action_id")} ORDER BY l.id DESC LIMIT 1`,
    [pack.id],
  )
  return paid?.price ?? pack.offers[0]?.priceMicro ?? null
}

/** Things that seldom carry a lot number. */
const SELDOM: readonly SupplyKind[] = ["blank", "abrasive", "consumable", "packaging"]

/** Whether "none printed" is likely: as it was the last time, or as it is with things of that kind. */
export function likelyUnnumbered(
  studio: Studio,
  packId: number,
  supply: { supplyId: number; kind: SupplyKind },
): boolean {
  const last = studio.file.firstText<{ number: string | null }>(
    `SELECT t.number FROM receipt_line l JOIN container c ON c.receipt_line_id = l.id JOIN lot t ON t.id = c.lot_id
     WHERE l.pack_id = ? AND c.supply_id = ? AND ${stands("l.action_id")} ORDER BY c.id DESC LIMIT 1`,
    [packId, supply.supplyId],
  )
  return last ? last.number === null : SELDOM.includes(supply.kind)
}

/** A price for an entry field: what is read back from it is the same. */
export function priceField(micro: number | null): string {
  if (micro === null) return ""
  return micro % 10_000 === 0 ? (micro / 1e6).toFixed(2) : String(micro / 1e6)
}

/** Packs whose name, maker or contents have all the words, in any order. */
export function packsCalled(all: readonly PackInfo[], words: string): PackInfo[] {
  return all.filter((pack) =>
    hasAll([pack.name, pack.maker ?? "", ...pack.contents.map((content) => content.supply)].join(" "), words),
  )
}

/** Whether all the words are in it, in any order; no words are in everything. */
export function hasAll(said: string, words: string): boolean {
  const wanted = words.toLowerCase().split(/\s+/).filter(Boolean)
  return wanted.every((word) => said.toLowerCase().includes(word))
}

/** The hazards of all that is in a pack. */
export function hazardsOf(studio: Studio, pack: PackInfo): string[] {
  const inside = new Set(pack.contents.map((content) => content.supplyId))
  return suppliesList(studio)
    .filter((supply) => inside.has(supply.id))
    .flatMap((supply) => supply.hazards)
}

/** What a pack looks like in a list of pictures: an icon by what is in it first, and the colours inside. */
export function pictureOf(
  pack: PackInfo,
  supplies: readonly { id: number; colour: string | null }[],
): { picture: IconName; colours: string[] } {
  const kind = pack.contents[0]?.kind ?? "other"
  const colours = pack.contents
    .map((content) => supplies.find((supply) => supply.id === content.supplyId)?.colour ?? null)
    .filter((colour) => colour !== null)
  return { picture: `kind-${kind}`, colours }
}
