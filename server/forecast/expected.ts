import type { LifeUnit } from "../../db/tables.ts"
import { daysBetween, type IsoDate, plusDays } from "../domain/dates.ts"
import type { Arrival } from "../domain/netting.ts"
import { type Life, lotExpiry } from "../domain/shelf-life.ts"
import { lifeOf } from "../ledger/on-hand.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { packs, type Supply } from "../supplies/service.ts"

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
  const crate = new Crate(today, [])
  for (const row of studio.file.allText<Row>(EXPECTED)) {
    crate.put({
      order: String(row.id),
      packs: row.packs,
      on: row.expected_on,
      supplyId: row.supply_id,
      amount: row.amount,
      containerCount: row.container_count,
      shelfLife: lifeOf(row.shelf_life, row.shelf_life_unit),
      openLife: lifeOf(row.open_life, row.open_life_unit),
      keptBack: row.kept_back,
    })
  }
  return crate.arrivals
}

/** Whole packs as if they were ordered now. */
export interface Ordered {
  packId: number
  count: number
  hereOn: IsoDate
}

/** What would come of packs ordered today, to be put beside what is expected already. */
export function ifOrdered(
  studio: Studio,
  ordered: readonly Ordered[],
  supplies: ReadonlyMap<number, Supply>,
  today: IsoDate,
  already: readonly Arrival[],
): Arrival[] {
  const packOf = new Map(packs(studio).map((pack) => [pack.id, pack]))
  const crate = new Crate(today, already)
  for (const [index, { packId, count, hereOn }] of ordered.entries()) {
    for (const { supplyId, amount, containerCount, shelfLife, openLife } of packOf.get(packId)!.contents) {
      const { keptBack } = supplies.get(supplyId)!
      const content = { supplyId, amount, containerCount, shelfLife, openLife, keptBack }
      crate.put({ order: `today ${index}`, packs: count, on: hereOn, ...content })
    }
  }
  return crate.arrivals
}

interface Content {
  /** contents of one pack come in one kit: told by its order and its number in it */
  order: string
  packs: number
  on: IsoDate
  supplyId: number
  /** in one container */
  amount: number
  containerCount: number
  shelfLife: Life | null
  openLife: Life | null
  keptBack: number
}

/** Containers to come, each with an id and a kit of its own below zero and below those that are known. */
class Crate {
  readonly arrivals: Arrival[] = []
  private readonly tomorrow: IsoDate
  private lastId: number
  private lastKit: number
  private readonly kitOf = new Map<string, number>()

  constructor(today: IsoDate, already: readonly Arrival[]) {
    this.tomorrow = plusDays(today, 1)
    this.lastId = already.reduce((least, { container }) => Math.min(least, container.containerId), 0)
    this.lastKit = already.reduce((least, { container }) => Math.min(least, container.kitUnit ?? 0), 0)
  }

  put({ order, packs, on: said, amount, containerCount, shelfLife, ...content }: Content): void {
    const on = daysBetween(this.tomorrow, said) > 0 ? said : this.tomorrow
    const { expiresOn } = lotExpiry({ label: null, madeOn: null, receivedOn: on, shelfLife })
    const { supplyId, openLife, keptBack } = content
    for (let pack = 0; pack < packs; pack++) {
      const name = `${order} ${pack}`
      const kitUnit = this.kitOf.get(name) ?? --this.lastKit
      this.kitOf.set(name, kitUnit)
      for (let one = 0; one < containerCount; one++) {
        this.arrivals.push({
          on,
          container: {
            containerId: --this.lastId,
            supplyId,
            amountLeft: amount,
            openedOn: null,
            useBy: expiresOn,
            held: false,
            onBench: false,
            kitUnit,
            openLife,
            keptBack,
          },
        })
      }
    }
  }
}
