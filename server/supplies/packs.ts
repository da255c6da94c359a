import { madeOf } from "../../db/made-of.ts"
import type { LifeUnit } from "../../db/tables.ts"
import { sql } from "../../db/words.ts"
import type { BaseUnit, SupplyKind } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Life } from "../domain/shelf-life.ts"
import { lifeOf } from "../ledger/on-hand.ts"
import type { Studio } from "../ledger/studio.ts"
import { codesToLookFor, keptCode } from "./codes.ts"
import { mustBeThere, nameMustBeFree } from "./names.ts"
import { supplyMustBeThere } from "./supplies.ts"

/** How a seller sells: what is inside, and the codes printed on it. */
export interface PackInput {
  name: string
  makerId: number | null
  /** as read or typed; an item number is kept in its 14-digit form */
  codes: readonly string[]
  /** `amount` in one container, in the supply's base unit; a box of six cans has one entry with six containers */
  contents: readonly { supplyId: number; amount: number; containerCount: number }[]
  offers: readonly { sellerId: number; priceMicro: number; breaks?: readonly PriceBreak[] }[]
}

/** A lower price a pack, from so many packs on. */
export interface PriceBreak {
  fromCount: number
  priceMicro: number
}

export interface PackContent {
  supplyId: number
  supply: string
  kind: SupplyKind
  baseUnit: BaseUnit
  /** in one container */
  amount: number
  containerCount: number
  shelfLife: Life | null
  openLife: Life | null
}

export interface PackInfo {
  id: number
  name: string
  makerId: number | null
  maker: string | null
  codes: string[]
  contents: PackContent[]
  /** the price of one pack, and of each from so many on, counts rising */
  offers: { sellerId: number; seller: string; priceMicro: number; breaks: PriceBreak[] }[]
}

/** Every pack, by name. */
export function packs(studio: Studio): readonly PackInfo[] {
  return allPacks(studio.file, ...rowsWhere(studio, "", []))
}

const allPacks = madeOf(packsFrom)

/** @throws {Refusal} 404: no such pack */
export function packById(studio: Studio, id: number): PackInfo {
  const [found] = packsWhere(studio, "WHERE p.id = ?", [id])
  if (!found) throw new Refusal("There is no such pack.", { status: 404 })
  return found
}

/**
 * The packs that carry a code: none, one, or several (a maker may print one code on two sizes).
 *
 * @param code as it was read or typed, in any form of an item number
 */
export function packsByCode(studio: Studio, code: string): PackInfo[] {
  const codes = codesToLookFor(code)
  const places = codes.map(() => "?").join(", ")
  return packsWhere(studio, `WHERE p.id IN (SELECT pack_id FROM pack_code WHERE code IN (${places}))`, codes)
}

/** The packs that contain a supply. */
export function packsOfSupply(studio: Studio, supplyId: number): PackInfo[] {
  return packsWhere(studio, "WHERE p.id IN (SELECT pack_id FROM pack_content WHERE supply_id = ?)", [
    supplyId,
  ])
}

/** @throws {Refusal} the name is taken; nothing inside; a maker, seller or supply that is not there */
export function addPack(studio: Studio, pack: PackInput): number {
  const { file } = studio
  return file.transaction(() => {
    nameMustBeFree(file, "pack", pack.name)
    return writePack(studio, pack)
  })
}

/** The same inside a transaction, for a name that is known to be free. */
export function writePack(studio: Studio, pack: PackInput): number {
  checkPack(studio, pack)
  const id = studio.file.insert("pack", { name: pack.name, maker_id: pack.makerId })
  keepInside(studio, id, pack)
  return id
}

/**
 * Changes a pack for deliveries to come. What was received keeps the amounts it came with.
 *
 * @throws {Refusal} as `addPack`; no such pack
 */
export function changePack(studio: Studio, id: number, pack: PackInput): void {
  const { file } = studio
  file.transaction(() => {
    mustBeThere(file, "pack", id)
    nameMustBeFree(file, "pack", pack.name, id)
    rewritePack(studio, id, pack)
  })
}

/** The same inside a transaction, where its name is not changed. */
export function rewritePack(studio: Studio, id: number, pack: PackInput): void {
  const { file } = studio
  checkPack(studio, pack)
  file.run(sql.updateTable("pack").set({ name: pack.name, maker_id: pack.makerId }).where("id", "=", id))
  const inCode = new Map(
    file
      .allText<{ code: string; packs: number }>("SELECT code, packs FROM pack_code WHERE pack_id = ?", [id])
      .map((row) => [row.code, row.packs]),
  )
  for (const table of ["pack_content", "pack_code", "offer"] as const) {
    file.run(sql.deleteFrom(table).where("pack_id", "=", id))
  }
  keepInside(studio, id, pack, inCode)
}

/**
 * Adds one more code to a pack; one it has already is no mistake.
 *
 * @param count packs in what carries the code: several in an outer carton
 */
export function addCodeToPack(studio: Studio, packId: number, code: string, count = 1): void {
  const { file } = studio
  file.transaction(() => {
    mustBeThere(file, "pack", packId)
    keepCode(studio, packId, code, count)
  })
}

/** How many of a pack are in what carries a code: one, or an outer carton's number of them. */
export function packsInCode(studio: Studio, packId: number, code: string): number {
  const codes = codesToLookFor(code)
  const places = codes.map(() => "?").join(", ")
  const kept = studio.file.firstText<{ packs: number }>(
    `SELECT packs FROM pack_code WHERE pack_id = ? AND code IN (${places})`,
    [packId, ...codes],
  )
  return kept?.packs ?? 1
}

/** Sets what a seller asks for a pack. */
export function setOffer(
  studio: Studio,
  packId: number,
  offer: { sellerId: number; priceMicro: number },
): void {
  const { file } = studio
  file.transaction(() => {
    mustBeThere(file, "pack", packId)
    mustBeThere(file, "seller", offer.sellerId, "sellerId")
    file.runText(
      `INSERT INTO offer (pack_id, seller_id, price_micro) VALUES (?, ?, ?)
       ON CONFLICT (pack_id, seller_id) DO UPDATE SET price_micro = excluded.price_micro`,
      [packId, offer.sellerId, offer.priceMicro],
    )
  })
}

function checkPack(studio: Studio, pack: PackInput): void {
  const { file } = studio
  if (pack.makerId !== null) mustBeThere(file, "maker", pack.makerId, "makerId")
  if (pack.contents.length === 0) {
    throw new Refusal("A pack needs something inside: choose a supply and write how much of it.", {
      field: "contents[0][supplyId]",
    })
  }
  pack.contents.forEach((content, index) => {
    supplyMustBeThere(studio, content.supplyId, `contents[${index}][supplyId]`)
  })
  pack.offers.forEach((offer, index) => {
    const field = `offers[${index}][sellerId]`
    mustBeThere(file, "seller", offer.sellerId, field)
    if (pack.offers.findIndex((other) => other.sellerId === offer.sellerId) !== index) {
      throw new Refusal("A seller has one price for a pack: this one is listed twice.", { field })
    }
    let last: PriceBreak = { fromCount: 1, priceMicro: offer.priceMicro }
    for (const one of offer.breaks ?? []) {
      if (one.fromCount <= last.fromCount || one.priceMicro >= last.priceMicro) {
        throw new Refusal("More packs at once must cost less each: put rising numbers and falling prices.")
      }
      last = one
    }
  })
}

function keepInside(
  studio: Studio,
  packId: number,
  pack: PackInput,
  inCode: ReadonlyMap<string, number> = new Map(),
): void {
  const { file } = studio
  pack.contents.forEach((content, index) => {
    file.insert("pack_content", {
      pack_id: packId,
      position: index + 1,
      supply_id: content.supplyId,
      amount: content.amount,
      container_count: content.containerCount,
    })
  })
  for (const code of pack.codes) keepCode(studio, packId, code, inCode.get(keptCode(code)) ?? 1)
  for (const { sellerId, priceMicro, breaks = [] } of pack.offers) {
    file.insert("offer", { pack_id: packId, seller_id: sellerId, price_micro: priceMicro })
    for (const one of breaks) {
      const price = { from_count: one.fromCount, price_micro: one.priceMicro }
      file.insert("offer_break", { pack_id: packId, seller_id: sellerId, ...price })
    }
  }
}

function keepCode(studio: Studio, packId: number, code: string, count: number): void {
  studio.file.runText(
    "INSERT INTO pack_code (code, pack_id, packs) VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
    [keptCode(code), packId, count],
  )
}

interface ContentRow extends Omit<PackContent, "shelfLife" | "openLife"> {
  packId: number
  shelfLife: number | null
  shelfLifeUnit: LifeUnit | null
  openLife: number | null
  openLifeUnit: LifeUnit | null
}

/** One query for each kind of row, for any number of packs; `where` speaks of the pack as `p`. */
function packsWhere(studio: Studio, where: string, values: readonly (string | number)[]): PackInfo[] {
  return packsFrom(...rowsWhere(studio, where, values))
}

type PackRow = Omit<PackInfo, "codes" | "contents" | "offers">
type OfferRow = Omit<PackInfo["offers"][number], "breaks"> & { packId: number }
type BreakRow = PriceBreak & { packId: number; sellerId: number }
type Rows = [
  packs: readonly PackRow[],
  codes: readonly { code: string; packId: number }[],
  contents: readonly ContentRow[],
  offers: readonly OfferRow[],
  breaks: readonly BreakRow[],
]

function rowsWhere({ file }: Studio, where: string, values: readonly (string | number)[]): Rows {
  return [
    file.allText<PackRow>(
      `SELECT p.id, p.name, p.maker_id AS makerId, m.name AS maker
       FROM pack p LEFT JOIN maker m ON m.id = p.maker_id ${where} ORDER BY p.name COLLATE NOCASE`,
      values,
    ),
    file.allText(
      `SELECT c.code, c.pack_id AS packId FROM pack_code c JOIN pack p ON p.id = c.pack_id ${where} ORDER BY c.code`,
      values,
    ),
    file.allText<ContentRow>(
      `SELECT c.pack_id AS packId, c.supply_id AS supplyId, s.name AS supply, s.kind, s.base_unit AS baseUnit, c.amount,
         c.container_count AS containerCount, s.shelf_life AS shelfLife, s.shelf_life_unit AS shelfLifeUnit,
         s.open_life AS openLife, s.open_life_unit AS openLifeUnit
       FROM pack_content c JOIN supply s ON s.id = c.supply_id JOIN pack p ON p.id = c.pack_id ${where}
       ORDER BY c.pack_id, c.position`,
      values,
    ),
    file.allText<OfferRow>(
      `SELECT o.pack_id AS packId, o.seller_id AS sellerId, s.name AS seller, o.price_micro AS priceMicro
       FROM offer o JOIN seller s ON s.id = o.seller_id JOIN pack p ON p.id = o.pack_id ${where}
       ORDER BY o.price_micro, s.name COLLATE NOCASE`,
      values,
    ),
    file.allText<BreakRow>(
      `SELECT b.pack_id AS packId, b.seller_id AS sellerId, b.from_count AS fromCount, b.price_micro AS priceMicro
       FROM offer_break b JOIN pack p ON p.id = b.pack_id ${where} ORDER BY b.from_count`,
      values,
    ),
  ]
}

function packsFrom(...[packRows, codes, contents, offers, breaks]: Rows): PackInfo[] {
  const found = new Map<number, PackInfo>()
  for (const row of packRows) found.set(row.id, { ...row, codes: [], contents: [], offers: [] })
  for (const { code, packId } of codes) found.get(packId)?.codes.push(code)
  for (const { packId, shelfLife, shelfLifeUnit, openLife, openLifeUnit, ...content } of contents) {
    found.get(packId)?.contents.push({
      ...content,
      shelfLife: lifeOf(shelfLife, shelfLifeUnit),
      openLife: lifeOf(openLife, openLifeUnit),
    })
  }
  for (const { packId, ...offer } of offers) found.get(packId)?.offers.push({ ...offer, breaks: [] })
  for (const { packId, sellerId, ...one } of breaks) {
    found
      .get(packId)
      ?.offers.find((offer) => offer.sellerId === sellerId)
      ?.breaks.push(one)
  }
  return [...found.values()]
}
