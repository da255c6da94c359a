import { expect, test } from "vitest"
import { pieceNeed, sheetsIn } from "../../server/domain/pieces.ts"
import { pieceUse, slim30, supply } from "./plan-fixtures.ts"

const foot = { widthUm: 304_800, heightUm: 304_800 }

test("what is left of a pack of sheets is whole sheets and the offcut the last cut left", () => {
  const use = pieceUse({
    supply: supply(5, { name: "Vinyl", kind: "vinyl", baseUnit: "mm2", sheet: foot }),
    marginUm: 5_000,
    gapUm: 2_000,
  })
  const pack = 929_030 // ten of 12 × 12 in, as it is received
  expect(sheetsIn(pack, foot)).toEqual({ whole: 10, restUm: 0 })
  const need = pieceNeed(use, slim30, null, 7)
  if (need.from !== "sheets" || need.cut.offcut === null) throw new Error("an offcut was expected")
  const left = sheetsIn(pack - need.amount, foot)
  expect(left.whole).toBe(9)
  // to the hundredth of a mm, since areas are whole mm²
  expect(Math.abs(left.restUm - need.cut.offcut.heightUm)).toBeLessThan(10)
})

test("an offcut alone is no sheet", () => {
  expect(sheetsIn(30_480, foot)).toEqual({ whole: 0, restUm: 100_000 })
})
