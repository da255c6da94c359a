import { expect, test } from "vitest"
import { shareSaid } from "../../server/domain/shares-said.ts"

test.each([
  ["half", 0.5],
  ["Half of it", 0.5],
  ["a half", 0.5],
  ["½", 0.5],
  ["1/2", 0.5],
  [" 1 / 2 ", 0.5],
  ["a quarter", 0.25],
  ["¼", 0.25],
  ["3/4", 0.75],
  ["three-quarters", 0.75],
  ["about a third", 1 / 3],
  ["2/3", 2 / 3],
  ["all", 1],
  ["50 %", 0.5],
  ["12,5 percent", 0.125],
])("“%s” is a share of what there is", (said, share) => {
  expect(shareSaid(said)).toBeCloseTo(share, 12)
})

test.each([
  "",
  "1/2 gal",
  "½ L",
  "1 1/2",
  "25 mL",
  "0.5",
  "half a litre",
  "3/2",
  "1/0",
  "0/4",
  "0 %",
  "120 %",
])("“%s” is none", (said) => {
  expect(shareSaid(said)).toBeNull()
})
