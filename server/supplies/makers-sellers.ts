import { sql } from "../../db/words.ts"
import type { SellerTerms } from "../domain/pack-mix.ts"
import type { Studio } from "../ledger/studio.ts"
import { mustBeThere, nameMustBeFree } from "./names.ts"

/** Who makes a supply: a lot number means something only together with its maker. */
export interface Maker {
  id: number
  name: string
}

/** Who sells packs, and how many days pass from order to door. */
export interface Seller extends SellerTerms {
  id: number
  name: string
  leadTimeDays: number
}

/** A seller as it is written down; terms that are left out are none. */
export type SellerInput = { name: string; leadTimeDays: number } & Partial<SellerTerms>

/** All makers by name. */
export function makers(studio: Studio): Maker[] {
  return studio.file.allText<Maker>("SELECT id, name FROM maker ORDER BY name COLLATE NOCASE")
}

/** All sellers by name. */
export function sellers(studio: Studio): Seller[] {
  return studio.file.allText<Seller>(
    `SELECT id, name, lead_time_days AS leadTimeDays, minimum_micro AS minimumMicro, shipping_micro AS shippingMicro,
       free_from_micro AS freeFromMicro
     FROM seller ORDER BY name COLLATE NOCASE`,
  )
}

/** @throws {Refusal} the name is taken */
export function addMaker(studio: Studio, maker: { name: string }): number {
  const { file } = studio
  return file.transaction(() => {
    nameMustBeFree(file, "maker", maker.name)
    return writeMaker(studio, maker)
  })
}

/** The same inside a transaction, for a name that is known to be free. */
export function writeMaker(studio: Studio, maker: { name: string }): number {
  return studio.file.insert("maker", { name: maker.name })
}

/** @throws {Refusal} no such maker; the name is taken */
export function changeMaker(studio: Studio, id: number, maker: { name: string }): void {
  const { file } = studio
  file.transaction(() => {
    mustBeThere(file, "maker", id)
    nameMustBeFree(file, "maker", maker.name, id)
    file.run(sql.updateTable("maker").set({ name: maker.name }).where("id", "=", id))
  })
}

/** @throws {Refusal} the name is taken */
export function addSeller(studio: Studio, seller: SellerInput): number {
  const { file } = studio
  return file.transaction(() => {
    nameMustBeFree(file, "seller", seller.name)
    return writeSeller(studio, seller)
  })
}

/** The same inside a transaction, for a name that is known to be free. */
export function writeSeller(studio: Studio, seller: SellerInput): number {
  return studio.file.insert("seller", sellerRow(seller))
}

/** @throws {Refusal} no such seller; the name is taken */
export function changeSeller(studio: Studio, id: number, seller: SellerInput): void {
  const { file } = studio
  file.transaction(() => {
    mustBeThere(file, "seller", id)
    nameMustBeFree(file, "seller", seller.name, id)
    rewriteSeller(studio, id, seller)
  })
}

/** The same inside a transaction, where its name is not changed. */
export function rewriteSeller(studio: Studio, id: number, seller: SellerInput): void {
  studio.file.run(sql.updateTable("seller").set(sellerRow(seller)).where("id", "=", id))
}

function sellerRow(seller: SellerInput) {
  return {
    name: seller.name,
    lead_time_days: seller.leadTimeDays,
    minimum_micro: seller.minimumMicro ?? null,
    shipping_micro: seller.shippingMicro ?? 0,
    free_from_micro: seller.freeFromMicro ?? null,
  }
}
