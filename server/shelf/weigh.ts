import { Refusal } from "../domain/refusal.ts"
import { formatAmount, type UnitSystem } from "../domain/units.ts"
import { amountWeighing, weightMg } from "../domain/weighing.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { move } from "../ledger/move.ts"
import { keepEmptyWeight } from "../ledger/places.ts"
import type { Studio } from "../ledger/studio.ts"
import { containerInAct, nameOf, refuseBeforeItCame } from "./find.ts"
import type { Asked } from "./marks.ts"

/** What weighing told: the bottle alone, or what is in it. */
export type Weighed = Asked & ({ kind: "bottle"; emptyMg: number } | { kind: "contents"; difference: number })

interface Row {
  code: string
  supply: string
  base_unit: "uL" | "mg" | "um" | "mm2" | "each"
  density_mg_per_ml: number | null
  amount_left: number
  full_amount: number
  empty_mg: number | null
}

/**
 * Keeps what an empty container weighs: the scale's reading while it is full, less its contents. Part of an action.
 *
 * @returns mg
 * @throws {Refusal} it is not full by the book; its contents cannot be weighed, or weigh more than was read
 */
export function keepFullWeight(now: Act, containerId: number, grossMg: number): number {
  const container = rowOf(now, containerId)
  const contents = contentsMg(container)
  if (container.amount_left !== container.full_amount) {
    throw new Refusal(`${nameOf(container)} is not full by the book. Weigh one that is.`, { field: "gross" })
  }
  const emptyMg = grossMg - contents
  if (emptyMg <= 0) {
    const say = (mg: number) => formatAmount(mg, "mg", now.units)
    throw new Refusal(
      `The scale read ${say(grossMg)}, but what is in ${nameOf(container)} weighs ${say(contents)} alone. Read it again, with the whole container on it.`,
      { field: "gross" },
    )
  }
  keepEmptyWeight(now, containerId, { grossMg, emptyMg })
  return emptyMg
}

/**
 * A container on the scale. While it is full by the book, that tells what it weighs empty; from then on a reading
 * tells what is left in it.
 *
 * @param grossMg what the scale reads
 * @throws {Refusal} no such container; it cannot be told by weight; lighter than the empty bottle
 */
export function weighContainer(
  studio: Studio,
  by: Actor,
  reading: { code: string; grossMg: number },
): Done<Weighed> {
  return act(studio, "weigh", by, reading, (now): ReturnType<typeof count> => {
    const container = containerInAct(now, reading.code)
    refuseBeforeItCame(now, container)
    const row = rowOf(now, container.id)
    const asked = { code: container.code, supplyId: container.supply_id }
    if (row.amount_left !== row.full_amount && row.empty_mg !== null)
      return count(now, { ...row, ...asked, id: container.id, empty_mg: row.empty_mg }, reading.grossMg)
    const emptyMg = keepFullWeight(now, container.id, reading.grossMg)
    return {
      summary: `Weighed ${nameOf(container)} full: empty it weighs ${formatAmount(emptyMg, "mg", now.units)}`,
      answer: { ...asked, kind: "bottle", emptyMg },
    }
  })
}

function count(
  now: Act,
  container: Row & Asked & { id: number; empty_mg: number },
  grossMg: number,
): { summary: string; answer: Weighed } {
  const { id, code, supplyId, base_unit, amount_left } = container
  const amount = amountOnScale(container, { grossMg, emptyMg: container.empty_mg }, now.units)
  const say = (value: number) => formatAmount(value, base_unit, now.units)
  const difference = amount - amount_left
  if (difference !== 0) move(now, id, difference, { kind: "count", basis: "weighed" })
  return {
    summary: `Weighed ${nameOf(container)}: ${say(amount)} are left`,
    answer: { code, supplyId, kind: "contents", difference },
  }
}

/** What the scale is asked about: a container, as far as weighing it matters. */
type Scaled = Pick<Row, "code" | "supply" | "base_unit" | "density_mg_per_ml" | "amount_left" | "full_amount">

/**
 * What is in a container by the scale: gross less the bottle alone, by the supply's density.
 *
 * @returns base units
 * @throws {Refusal} it cannot be told by weight; lighter than the empty bottle; more than can be in it
 */
export function amountOnScale(
  container: Scaled,
  { grossMg, emptyMg }: { grossMg: number; emptyMg: number },
  units: UnitSystem,
): number {
  const { base_unit, density_mg_per_ml } = container
  contentsMg(container)
  const amount = amountWeighing(grossMg - emptyMg, base_unit, density_mg_per_ml) ?? 0
  const say = (value: number) => formatAmount(value, base_unit, units)
  if (amount < 0) {
    throw new Refusal(
      `The scale read less than ${nameOf(container)} weighs empty. Put all of it on the scale, lid too.`,
      { field: "gross" },
    )
  }
  // a bottle holds a little more than its label says, never much
  if (amount > container.full_amount * 1.25) {
    throw new Refusal(
      `That would be ${say(amount)} in ${nameOf(container)}, which holds ${say(container.full_amount)}. Read the scale again.`,
      { field: "gross" },
    )
  }
  return amount
}

function contentsMg(container: Scaled): number {
  const mg = weightMg(container.amount_left, container.base_unit, container.density_mg_per_ml)
  if (mg !== null) return mg
  throw new Refusal(
    container.base_unit === "uL"
      ? `The density of ${container.supply} is not known, so the scale cannot tell. It is on its data sheet; put it in under Set up.`
      : `${container.supply} is not counted by weight or volume, so the scale cannot tell how much is there.`,
    { field: "gross" },
  )
}

function rowOf(now: Act, containerId: number): Row {
  const row = now.file.firstText<Row>(
    `SELECT c.code, s.name AS supply, s.base_unit, s.density_mg_per_ml, c.amount_left, c.full_amount, c.empty_mg
     FROM container c JOIN supply s ON s.id = c.supply_id WHERE c.id = ?`,
    [containerId],
  )
  if (!row) throw new Error(`there is no container ${containerId}`)
  return row
}
