import { sql } from "../../db/words.ts"
import type { Studio } from "../ledger/studio.ts"
import { mustBeThere, nameMustBeFree } from "./names.ts"

/** Who makes a supply: a lot number means something only together with its maker. */
export interface Maker {
  id: number
  name: string
}

/** Who sells packs, and how many days pass from order to door. */
export interface Seller {
  id: number
  name: string
  leadTimeDays: number
}

/** All makers by name. */
export function makers(studio: Studio): Maker[] {
  return studio.file.allText<Maker>("SELECT id, name FROM maker ORDER BY name COLLATE NOCASE")
}

/** All sellers by name. */
export function sellers(studio: Studio): Seller[] {
  return studio.file.allText<Seller>(
    "SELECT id, name, lead_time_days AS leadTimeDays FROM seller ORDER BY name COLLATE NOCASE",
  )
}

/** @throws {Refusal} the name is taken */
export function addMaker(studio: Studio, maker: { name: string }): number {
  const { file } = studio
  return file.transaction(() => {
    nameMustBeFree(file, "maker", maker.name)
    return file.insert("maker", { name: maker.name })
  })
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
export function addSeller(studio: Studio, seller: { name: string; leadTimeDays: number }): number {
  const { file } = studio
  return file.transaction(() => {
    nameMustBeFree(file, "seller", seller.name)
    return file.insert("seller", { name: seller.name, lead_time_days: seller.leadTimeDays })
  })
}

/** @throws {Refusal} no such seller; the name is taken */
export function changeSeller(
  studio: Studio,
  id: number,
  seller: { name: string; leadTimeDays: number },
): void {
  const { file } = studio
  file.transaction(() => {
    mustBeThere(file, "seller", id)
    nameMustBeFree(file, "seller", seller.name, id)
    file.run(
      sql
        .updateTable("seller")
        .set({ name: seller.name, lead_time_days: seller.leadTimeDays })
        .where("id", "=", id),
    )
  })
}
