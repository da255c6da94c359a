import fc from "fast-check"
import { expect, test } from "vitest"
import { roundParts, roundTable } from "../../server/domain/rounding.ts"

const CENT = 10_000
const micro = fc.oneof(
  fc.integer({ min: -5_000_000, max: 5_000_000 }),
  fc.integer({ min: -500, max: 500 }).map((cents) => cents * CENT),
)
const table = fc
  .tuple(fc.integer({ min: 1, max: 12 }), fc.integer({ min: 1, max: 9 }))
  .chain(([rows, columns]) =>
    fc.array(fc.array(micro, { minLength: columns, maxLength: columns }), {
      minLength: rows,
      maxLength: rows,
    }),
  )
const sum = (values: readonly number[]) => values.reduce((whole, value) => whole + value, 0)

/** The multiple of a cent just below or above; itself when it is one. */
function besideIt(rounded: number, exact: number) {
  expect(rounded / CENT).toBeOneOf([Math.floor(exact / CENT) + 0, Math.ceil(exact / CENT) + 0])
}

test("parts rounded to the cent add up to their sum rounded to the nearest cent, and none moves by a whole cent", () => {
  fc.assert(
    fc.property(fc.array(micro, { maxLength: 30 }), (parts) => {
      const rounded = roundParts(parts, CENT)
      expect(Math.abs(sum(rounded) - sum(parts))).toBeLessThanOrEqual(CENT / 2)
      parts.forEach((part, index) => {
        besideIt(rounded[index]!, part)
      })
    }),
  )
})

test("parts whose sum was rounded elsewhere, up or down, add up to that", () => {
  fc.assert(
    fc.property(fc.array(micro, { minLength: 1, maxLength: 30 }), fc.boolean(), (parts, isUp) => {
      const whole = (isUp ? Math.ceil(sum(parts) / CENT) : Math.floor(sum(parts) / CENT)) * CENT
      const rounded = roundParts(parts, CENT, whole)
      expect(sum(rounded)).toBe(whole + 0)
      parts.forEach((part, index) => {
        besideIt(rounded[index]!, part)
      })
      expect(() => roundParts(parts, CENT, whole + 2 * CENT)).toThrow(RangeError)
    }),
  )
})

test("a table rounded to the cent adds up along every row and column; every cell and total is the cent below or above", () => {
  fc.assert(
    fc.property(table, (cells) => {
      const rounded = roundTable(cells, CENT)
      cells.forEach((row, r) => {
        row.forEach((cell, c) => {
          besideIt(rounded.cells[r]![c]!, cell)
        })
        expect(sum(rounded.cells[r]!)).toBe(rounded.rowTotals[r])
        besideIt(rounded.rowTotals[r]!, sum(row))
      })
      cells[0]!.forEach((_, c) => {
        expect(sum(rounded.cells.map((row) => row[c]!))).toBe(rounded.columnTotals[c])
        besideIt(rounded.columnTotals[c]!, sum(cells.map((row) => row[c]!)))
      })
      expect(sum(rounded.rowTotals)).toBe(rounded.total)
      besideIt(rounded.total, sum(cells.flat()))
    }),
    { numRuns: 400, examples: [[[[20_000, -20_000]]]] },
  )
})

test("a third each of a dollar is 34, 33 and 33 cents", () => {
  // by hand: 33.3333 + 33.3333 + 33.3334 cents; two go down, the largest remainder goes up
  expect(roundParts([333_333, 333_333, 333_334], CENT)).toEqual([330_000, 330_000, 340_000])
})

test("invoices in whole cents stay what they are, however they are split over kinds", () => {
  // a kit of 19.99 half resin and half hardener, and paint of 7.50: the column's sum is no other than 27.49
  const { columnTotals, cells } = roundTable([[9_995_000], [9_995_000], [7_500_000]], CENT)
  expect(columnTotals).toEqual([27_490_000])
  expect(cells.flat().toSorted()).toEqual([10_000_000, 7_500_000, 9_990_000])
})

test("what is no whole number is refused", () => {
  expect(() => roundParts([0.5], CENT)).toThrow(RangeError)
  expect(() => roundParts([1], 0)).toThrow(RangeError)
  expect(() => roundTable([[1, 2], [3]], CENT)).toThrow("rows of one length")
})
