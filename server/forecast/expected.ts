import type { LifeUnit } from "../../db/tables.ts"
import { daysBetween, type IsoDate, plusDays } from "../domain/dates.ts"
import type { Arrival } from "../domain/netting.ts"
import { lotExpiry } from "../domain/shelf-life.ts"
import { lifeOf } from "../ledger/on-hand.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"

interface Row {
  id: number
  packs: number
  expected_on: IsoDate
  supply_id: number
  amount: number
  container_count: number
  shelf_life: number | null
  shelf_life_unit: LifeUnit | null
  open_life: number | null
  open_life_unit: LifeUnit | null
  kept_back: number
}

/** Contents of packs that are ordered and have not come, nor been cancelled. */
const EXPECTED = `SELECT p.id, p.expected_on, pc.supply_id, pc.amount, pc.container_count,
    s.shelf_life, s.shelf_life_unit, s.open_life, s.open_life_unit, s.kept_back,
    p.count - coalesce((SELECT sum(l.count) FROM receipt_line l WHERE l.purchase_id = p.id
      AND ${stands("l.action_id")}), 0) AS packs
  FROM purchase p JOIN pack_content pc ON pc.pack_id = p.pack_id JOIN supply s ON s.id = pc.supply_id
  WHERE p.cancelled = 0 ORDER BY p.expected_on, p.id, pc.position`

/**
 * What is ordered and expected, as containers that are not there yet (their ids and kits are below zero).
 *
 * What was expected by today and has not come counts from tomorrow: nothing can be made of it now. What it is
 * good for is the supply's shelf life from the day it comes, since its label is not known.
 */
export function expected(studio: Studio, today: IsoDate): Arrival[] {
  const tomorrow = plusDays(today, 1)
  const arrivals: Arrival[] = []
  let kits = 0
  const kitOf = new Map<string, number>()
  for (const row of studio.file.allText<Row>(EXPECTED)) {
    const on = daysBetween(tomorrow, row.expected_on) > 0 ? row.expected_on : tomorrow
    const shelfLife = lifeOf(row.shelf_life, row.shelf_life_unit)
    const { expiresOn } = lotExpiry({ label: null, madeOn: null, receivedOn: on, shelfLife })
    for (let pack = 0; pack < row.packs; pack++) {
      const name = `${row.id} ${pack}`
      const kitUnit = kitOf.get(name) ?? -++kits
      kitOf.set(name, kitUnit)
      for (let one = 0; one < row.container_count; one++) {
        arrivals.push({
          on,
          container: {
            containerId: -(arrivals.length + 1),
            supplyId: row.supply_id,
            amountLeft: row.amount,
            openedOn: null,
            useBy: expiresOn,
            held: false,
            onBench: false,
            kitUnit,
            openLife: lifeOf(row.open_life, row.open_life_unit),
            keptBack: row.kept_back,
          },
        })
      }
    }
  }
  return arrivals
}
