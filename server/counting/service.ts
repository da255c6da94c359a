import type { BaseUnit, MovementBasis } from "../../db/tables.ts"
import { type CountDifference, countDifference } from "../domain/count-difference.ts"
import type { SupplyKind } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { move } from "../ledger/move.ts"
import { type OnHand, onHand } from "../ledger/on-hand.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { countable, type Found } from "../shelf/service.ts"

/** A count of part of the shelf. */
export interface Stocktake {
  id: number
  startedOn: string
  kind: SupplyKind | null
  place: string | null
  blind: boolean
  /** null while it goes on */
  ended: "accepted" | "dropped" | null
}

const STOCKTAKES = `SELECT s.id, a.happened_on AS startedOn, s.kind, s.place, s.blind, (
    SELECT e.how FROM stocktake_end e WHERE e.stocktake_id = s.id AND ${stands("e.action_id")} ORDER BY e.id DESC LIMIT 1
  ) AS ended
  FROM stocktake s JOIN action a ON a.id = s.action_id WHERE ${stands("a.id")}`

type StocktakeRow = Omit<Stocktake, "blind"> & { blind: number }
const toStocktake = (row: StocktakeRow): Stocktake => ({ ...row, blind: row.blind === 1 })

/** Counts, the latest first. */
export function stocktakes(studio: Studio): Stocktake[] {
  return studio.file.allText<StocktakeRow>(`${STOCKTAKES} ORDER BY s.id DESC LIMIT 50`).map(toStocktake)
}

/** Begins a count of everything, of one kind of supply, or of one place. */
export function startStocktake(
  studio: Studio,
  by: Actor,
  input: { kind: SupplyKind | null; place: string | null; blind: boolean },
): Done<{ id: number }> {
  return act(studio, "stocktake", by, input, (now) => {
    const id = now.file.insert("stocktake", {
      action_id: now.actionId,
      kind: input.kind,
      place: input.place,
      blind: input.blind ? 1 : 0,
    })
    return { summary: `Began a count of ${whatOf(input)}`, answer: { id } }
  })
}

/** What a count is of, in words. */
export function whatOf({ kind, place }: { kind: string | null; place: string | null }): string {
  return [kind === null ? "the shelf" : kind, place === null ? "" : `at ${place}`].filter(Boolean).join(" ")
}

/** A container of a count, with what was found. */
export interface StocktakeLine {
  containerId: number
  code: string
  supply: string
  baseUnit: BaseUnit
  lotNumber: string | null
  place: string | null
  amountLeft: number
  costLeftMicro: number
  fullAmount: number
  counted: { found: number; basis: MovementBasis; difference: CountDifference } | null
}

/**
 * A count as it stands: all that is on hand of what is counted, and what was found of it. What has emptied since it
 * was counted stays in it.
 *
 * @throws {Refusal} no such count
 */
export function stocktake(studio: Studio, id: number): Stocktake & { lines: StocktakeLine[] } {
  const row = studio.file.firstText<StocktakeRow>(`${STOCKTAKES} AND s.id = ?`, [id])
  if (!row) throw new Refusal("There is no such count.", { status: 404 })
  const found = new Map(
    studio.file
      .allText<{
        containerId: number
        found: number
        book: number
        basis: MovementBasis
        left: number
        cost: number
      }>(
        `SELECT l.container_id AS containerId, l.found, l.book, l.basis, c.amount_left AS left, c.cost_left_micro AS cost
         FROM stocktake_line l JOIN container c ON c.id = l.container_id WHERE l.stocktake_id = ? AND ${stands("l.action_id")} ORDER BY l.id`,
        [id],
      )
      .map((line) => [line.containerId, line]),
  )
  const inScope = scopeOf(studio, row)
  const lines = inScope.map((one): StocktakeLine => {
    const line = found.get(one.containerId)
    return {
      ...one,
      counted: line
        ? {
            found: line.found,
            basis: line.basis,
            difference: countDifference({
              found: line.found,
              book: line.book,
              now: line.left,
              costNowMicro: line.cost,
              full: one.fullAmount,
              baseUnit: one.baseUnit,
              isLook: line.basis === "estimated",
            }),
          }
        : null,
    }
  })
  return { ...toStocktake(row), lines }
}

interface InScope extends Omit<StocktakeLine, "counted"> {}

function scopeOf(studio: Studio, { id, kind, place }: StocktakeRow): InScope[] {
  const places = new Map(
    studio.file
      .allText<{ id: number; place: string | null }>("SELECT id, place FROM container")
      .map((one) => [one.id, one.place]),
  )
  const counted = new Set(
    studio.file
      .allText<{ id: number }>(
        `SELECT DISTINCT container_id AS id FROM stocktake_line l WHERE stocktake_id = ? AND ${stands("l.action_id")}`,
        [id],
      )
      .map((one) => one.id),
  )
  const there = onHand(studio.file, settingsOf(studio).timeZone)
  const shown = there.filter(
    (one) =>
      counted.has(one.containerId) ||
      ((kind === null || one.kind === kind) && (place === null || places.get(one.containerId) === place)),
  )
  const known = new Set(shown.map((one) => one.containerId))
  const emptied = studio.file
    .allText<Omit<InScope, "place"> & { id: number }>(
      `SELECT c.id AS containerId, c.id, c.code, s.name AS supply, s.base_unit AS baseUnit, l.number AS lotNumber, c.amount_left AS amountLeft,
         c.cost_left_micro AS costLeftMicro, c.full_amount AS fullAmount
       FROM container c JOIN supply s ON s.id = c.supply_id JOIN lot l ON l.id = c.lot_id WHERE c.amount_left = 0`,
    )
    .filter((one) => counted.has(one.containerId) && !known.has(one.containerId))
  return [...shown, ...emptied]
    .map((one: OnHand | (typeof emptied)[number]) => ({
      containerId: one.containerId,
      code: one.code,
      supply: one.supply,
      baseUnit: one.baseUnit,
      lotNumber: one.lotNumber,
      place: places.get(one.containerId) ?? null,
      amountLeft: one.amountLeft,
      costLeftMicro: one.costLeftMicro,
      fullAmount: one.fullAmount,
    }))
    .sort((a, b) => (a.supply < b.supply ? -1 : a.supply > b.supply ? 1 : a.containerId - b.containerId))
}

/**
 * Writes down what was found in a container. The book does not change yet.
 *
 * @throws {Refusal} no such count or container, the count has ended, or far more than fits
 */
export function countLine(
  studio: Studio,
  by: Actor,
  input: Found & { stocktakeId: number },
): Done<{ code: string }> {
  return act(studio, "count line", by, input, (now) => {
    const count = refuseEnded(studio, input.stocktakeId)
    const { id, code, supply, amount_left } = countable(now, input)
    const last = now.file.firstText<{ id: number }>(
      "SELECT last_movement_id AS id FROM container WHERE id = ?",
      [id],
    )!
    now.file.insert("stocktake_line", {
      action_id: now.actionId,
      stocktake_id: input.stocktakeId,
      container_id: id,
      found: input.amount,
      basis: input.basis,
      book: amount_left,
      movement_id: last.id,
    })
    return { summary: `Counted ${code} (${supply}) for the count of ${whatOf(count)}`, answer: { code } }
  })
}

/** Writes the differences of a count into the book, or drops it. Undone like anything else. */
export function endStocktake(
  studio: Studio,
  by: Actor,
  input: { stocktakeId: number; how: "accepted" | "dropped" },
): Done<{ changed: number }> {
  return act(studio, input.how === "accepted" ? "count" : "drop count", by, input, (now) => {
    refuseEnded(studio, input.stocktakeId)
    const count = stocktake(studio, input.stocktakeId)
    const counted = count.lines.filter((line) => line.counted !== null)
    let changed = 0
    if (input.how === "accepted") {
      if (counted.length === 0) throw new Refusal("Nothing is counted yet, so there is nothing to accept.")
      for (const { containerId, counted: line } of counted) {
        if (line === null || line.difference.amount === 0) continue
        move(now, containerId, line.difference.amount, { kind: "count", basis: line.basis })
        changed += 1
      }
    }
    now.file.insert("stocktake_end", {
      action_id: now.actionId,
      stocktake_id: input.stocktakeId,
      how: input.how,
    })
    return {
      summary:
        input.how === "accepted"
          ? `Accepted the count of ${whatOf(count)}: ${counted.length} counted, ${changed} put right`
          : `Dropped the count of ${whatOf(count)}`,
      answer: { changed },
    }
  })
}

function refuseEnded(studio: Studio, id: number): StocktakeRow {
  const row = studio.file.firstText<StocktakeRow>(`${STOCKTAKES} AND s.id = ?`, [id])
  if (!row) throw new Refusal("There is no such count.", { status: 404 })
  if (row.ended !== null)
    throw new Refusal(`This count was ${row.ended} before. Begin a new one.`, { status: 409 })
  return row
}

export { worthCounting } from "./worth.ts"
