import type { StudioFile } from "../../db/file.ts"
import { type IsoDate, plusDays } from "../domain/dates.ts"
import { SUPPLY_KINDS, type SupplyKind } from "../domain/plan.ts"
import { type RoundedTable, roundTable } from "../domain/rounding.ts"
import { type Change, changesOf, type Flow } from "./changes.ts"

/**
 * Columns of the yearly account, in its order. What comes onto the shelf and what was there at the beginning count
 * up, what left it and what is there at the end count down; so each row adds up to nothing.
 */
export const COLUMNS = [
  "opening",
  "begun",
  "bought",
  "extras",
  "cups",
  "other use",
  "waste",
  "given",
  "counted",
  "late",
  "closing",
] as const
export type Column = (typeof COLUMNS)[number]

const COMES: ReadonlySet<Column> = new Set(["opening", "begun", "bought", "extras"])

/** What was on the shelf, came and went in a span of days, by kind of supply, in micro. All as a person reads it: bought 12, used 9. */
export interface Materials {
  from: IsoDate
  to: IsoDate
  kinds: { kind: SupplyKind; of: Record<Column, number> }[]
  total: Record<Column, number>
}

/**
 * Materials of a span of days: opening value + begun with + bought + shipping and tax − closing value = used in cups +
 * used otherwise + wasted + given away + counted differences + shipping and tax on what was gone already. Exact.
 *
 * @param to the last day, counted in; null: until now, so that the closing value is what the containers carry
 */
export function materials(file: StudioFile, from: IsoDate, to: IsoDate | null): Omit<Materials, "to"> {
  const before = changesOf(file, "", plusDays(from, -1))
  const during = changesOf(file, from, to ?? undefined)
  const kinds = SUPPLY_KINDS.map((kind) => {
    const ofKind = (changes: readonly Change[]) => changes.filter((change) => change.kind === kind)
    const opening = sum(ofKind(before))
    const flow = (name: Flow) => sum(ofKind(during).filter((change) => change.flow === name))
    const of = Object.fromEntries(
      COLUMNS.map((column) => {
        if (column === "opening") return [column, opening]
        if (column === "closing") return [column, opening + sum(ofKind(during))]
        return [column, COMES.has(column) ? flow(column) : 0 - flow(column)]
      }),
    ) as Record<Column, number>
    return { kind, of }
  })
  const moved = kinds.filter(({ of }) => COLUMNS.some((column) => of[column] !== 0))
  return { from, kinds: moved, total: totalOf(moved.map(({ of }) => of)) }
}

/**
 * The same to the smallest coin, so that every row and every column still adds up to it (`roundTable`): each number is
 * the one just below or above the exact one.
 */
export function rounded<Account extends Pick<Materials, "kinds" | "total">>(
  account: Account,
  coin: number,
): Account {
  if (account.kinds.length === 0) return account
  const signed = account.kinds.map(({ of }) => COLUMNS.map((column) => sign(column) * of[column]))
  const table: RoundedTable = roundTable(signed, coin)
  const record = (values: readonly number[]) =>
    Object.fromEntries(COLUMNS.map((column, index) => [column, sign(column) * values[index]! + 0])) as Record<
      Column,
      number
    >
  return {
    ...account,
    kinds: account.kinds.map(({ kind }, row) => ({ kind, of: record(table.cells[row]!) })),
    total: record(table.columnTotals),
  }
}

function sign(column: Column): 1 | -1 {
  return COMES.has(column) ? 1 : -1
}

function totalOf(rows: readonly Record<Column, number>[]): Record<Column, number> {
  return Object.fromEntries(
    COLUMNS.map((column) => [column, rows.reduce((whole, row) => whole + row[column], 0)]),
  ) as Record<Column, number>
}

function sum(changes: readonly Change[]): number {
  return changes.reduce((whole, change) => whole + change.micro, 0)
}
