import type { LifeUnit, SupplyKind } from "../../db/tables.ts"
import { Refusal } from "../domain/refusal.ts"
import {
  type Beside,
  beside,
  countOf,
  isOfAge,
  OPEN_AGES,
  type OpenAge,
  type OutOf,
} from "../domain/side-by-side.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { usesOfLots } from "./lot.ts"

/** Finished or scrapped: a cup in work may still come out either way. */
const COUNTED = "u.state <> 'in work'"

/** Scrapped, or complained of. */
const BAD = `(u.state = 'scrapped' OR u.id IN (SELECT p.cup_id FROM complaint p WHERE ${stands("p.action_id")}))`

/** A lot's cups beside the rest of its supply's. */
export interface LotBeside extends Beside {
  lotId: number
  number: string | null
  maker: string | null
}

/** Cups of a supply that took from a container open so long, beside the rest of the supply's cups. */
export interface AgeBeside extends Beside {
  age: OpenAge
}

/** A supply's cups, set side by side in three ways. Only finished or scrapped cups; counts only. */
export interface SupplyBeside {
  supplyId: number
  supply: string
  /** cups that have any of it, beside all other cups of the studio */
  any: Beside
  /** lots that a cup has, the latest first */
  lots: LotBeside[]
  /** ages that a cup has, the freshest first; null: it does not age once opened */
  ages: AgeBeside[] | null
  /** cups with it of which it is not known when the container was opened */
  ageNotKnown: OutOf
}

/**
 * Sets a supply's cups side by side: with it or without, lot by lot, and by how long the container had been open on the
 * day of the coat (where a cup took from several, the one that had been open longest).
 *
 * @throws {Refusal} no such supply
 */
export function supplySideBySide(studio: Studio, supplyId: number): SupplyBeside {
  const supply = studio.file.firstText<{
    name: string
    kind: SupplyKind
    openLifeUnit: LifeUnit | null
  }>("SELECT name, kind, open_life_unit AS openLifeUnit FROM supply WHERE id = ?", [supplyId])
  if (!supply) throw new Refusal("There is no such supply.", { status: 404 })
  const { cups, ofLot } = cupsOfSupply(studio, supplyId)
  const all = countOf(cups.values())
  const lots = lotsOfSupply(studio, supplyId).flatMap((lot) => {
    const mine = ofLot.get(lot.lotId)
    return mine ? [{ ...lot, ...beside(countOf(mine), all) }] : []
  })
  const ageOf = (age: OpenAge) =>
    countOf([...cups.values()].filter(({ openDays }) => openDays !== null && isOfAge(age, openDays)))
  const ages = OPEN_AGES.map((age) => ({ age, ...beside(ageOf(age), all) }))
  return {
    supplyId,
    supply: supply.name,
    any: beside(all, countedCups(studio)),
    lots,
    ages: agesOnceOpen(supply) ? ages.filter(({ withIt }) => withIt.all > 0) : null,
    ageNotKnown: countOf([...cups.values()].filter(({ openDays }) => openDays === null)),
  }
}

/** Cups with a lot beside the rest of its supply's cups. */
export function sideBySide(studio: Studio, { lotId, supplyId }: { lotId: number; supplyId: number }): Beside {
  const { cups, ofLot } = cupsOfSupply(studio, supplyId)
  return beside(countOf(ofLot.get(lotId) ?? []), countOf(cups.values()))
}

interface CupOfSupply {
  bad: boolean
  /** days from the opening of the container to the coat, the most of any; null: not known of any */
  openDays: number | null
}

/** A supply's cups by their id, and those of each of its lots. */
function cupsOfSupply(
  studio: Studio,
  supplyId: number,
): { cups: Map<number, CupOfSupply>; ofLot: Map<number, CupOfSupply[]> } {
  const cups = new Map<number, CupOfSupply>()
  const ofLot = new Map<number, CupOfSupply[]>()
  const rows = studio.file.allText<{ lotId: number; cupId: number; bad: number; openDays: number | null }>(
    CUPS_OF_SUPPLY,
    [supplyId],
  )
  for (const { lotId, cupId, bad, openDays } of rows) {
    const cup = cups.get(cupId) ?? { bad: bad === 1, openDays: null }
    if (openDays !== null) cup.openDays = Math.max(openDays, cup.openDays ?? 0)
    cups.set(cupId, cup)
    const mine = ofLot.get(lotId)
    if (mine) mine.push(cup)
    else ofLot.set(lotId, [cup])
  }
  return { cups, ofLot }
}

/**
 * Each cup once for each of the supply's lots in it. From the supply's containers to their uses to the cups, each step
 * by an index, as from a lot (`CUPS_OF_LOT`).
 */
const CUPS_OF_SUPPLY = `SELECT use.lot_id AS lotId, u.id AS cupId, ${BAD} AS bad,
    max(CASE WHEN k.opened_on <= a.happened_on THEN julianday(a.happened_on) - julianday(k.opened_on) END) AS openDays
  FROM (${usesOfLots("container s CROSS JOIN container_lot t ON t.container_id = s.id", "s.supply_id = ?")}) use
    CROSS JOIN coat c ON c.id = use.coat_id
    CROSS JOIN action a ON a.id = c.action_id
    CROSS JOIN container k ON k.id = use.container_id
    CROSS JOIN coat_cup cc ON cc.coat_id = c.id
    CROSS JOIN cup u ON u.id = cc.cup_id
  WHERE ${COUNTED}
  GROUP BY use.lot_id, u.id`

function countedCups({ file }: Studio): OutOf {
  return file.firstText<OutOf>(
    `SELECT count(*) AS "all", coalesce(sum(${BAD}), 0) AS bad FROM cup u WHERE ${COUNTED}`,
  )!
}

function lotsOfSupply({ file }: Studio, supplyId: number) {
  return file.allText<{ lotId: number; number: string | null; maker: string | null }>(
    `SELECT l.id AS lotId, l.number, k.name AS maker FROM lot l LEFT JOIN maker k ON k.id = l.maker_id
     WHERE l.id IN (SELECT t.lot_id FROM container c CROSS JOIN container_lot t ON t.container_id = c.id WHERE c.supply_id = ?)
     ORDER BY l.id DESC`,
    [supplyId],
  )
}

/** What has a life after opening; resin and hardener have one also where none is written down. */
function agesOnceOpen({ kind, openLifeUnit }: { kind: SupplyKind; openLifeUnit: LifeUnit | null }): boolean {
  return kind === "resin" || kind === "hardener" || (openLifeUnit !== null && openLifeUnit !== "never")
}
