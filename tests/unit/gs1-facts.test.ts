import { describe, expect, test } from "vitest"
import type { Element } from "../../server/domain/gs1/elements.ts"
import { factsOf } from "../../server/domain/gs1/facts.ts"
import { gtinCheckDigit } from "../../server/domain/gs1.ts"

const TODAY = "2026-11-25"
const ITEM = `0952000012345${gtinCheckDigit("0952000012345")}`
const elements = (...all: [string, string][]): Element[] => all.map(([ai, value]) => ({ ai, value }))

const NOTHING = {
  item: null,
  inside: null,
  lot: null,
  serial: null,
  madeOn: null,
  packedOn: null,
  bestBefore: null,
  sellBy: null,
  expiresOn: null,
  count: null,
  contents: [],
  partNumbers: [],
}

describe("what a code tells a receipt", () => {
  test("nothing said is nothing known", () => {
    expect(factsOf([], TODAY)).toEqual(NOTHING)
  })

  test("item, lot, serial, the five dates, count and part numbers", () => {
    expect(
      factsOf(
        elements(
          ["01", ITEM],
          ["10", "AB-12"],
          ["21", "7"],
          ["11", "250601"],
          ["13", "250602"],
          ["15", "270300"],
          ["16", "270401"],
          ["17", "270630"],
          ["30", "0012"],
          ["240", "P-1"],
          ["241", "C-2"],
        ),
        TODAY,
      ),
    ).toEqual({
      ...NOTHING,
      item: { gtin14: ITEM, shown: ITEM },
      lot: "AB-12",
      serial: "7",
      madeOn: "2025-06-01",
      packedOn: "2025-06-02",
      bestBefore: "2027-03-31",
      sellBy: "2027-04-01",
      expiresOn: "2027-06-30",
      count: 12,
      partNumbers: ["P-1", "C-2"],
    })
  })

  test("a carton: what is inside, and how many", () => {
    expect(factsOf(elements(["02", ITEM], ["37", "24"]), TODAY).inside).toEqual({
      item: { gtin14: ITEM, shown: ITEM },
      count: 24,
    })
    expect(factsOf(elements(["02", ITEM]), TODAY).inside?.count).toBeNull()
  })

  // the fourth digit counts decimals; units exact by definition (NIST Handbook 44 appendix C)
  test.each([
    ["3103", "001250", 1_250_000, "mg"], // 1.250 kg
    ["3100", "000002", 2_000_000, "mg"],
    ["3201", "000160", 7_257_478, "mg"], // 16.0 lb × 453 592.37 mg
    ["3153", "000946", 946_000, "uL"], // 0.946 L
    ["3600", "000001", 946_353, "uL"], // 1 US qt = 946 352.946 µL
    ["3611", "000005", 1_892_706, "uL"], // 0.5 US gal = 1 892 705.892 µL
    ["3112", "000500", 5_000_000, "um"], // 5.00 m
    ["3142", "000150", 1_500_000, "mm2"], // 1.50 m²
    ["3223", "001000", 304_800, "um"], // 1 ft
    ["3512", "000100", 92_903, "mm2"], // 1 ft² = 92 903.04 mm²
    ["3155", "999999", 9_999_990, "uL"],
  ] as const)("(%s)%s holds %d %s", (ai, value, amount, baseUnit) => {
    expect(factsOf(elements([ai, value]), TODAY).contents).toEqual([{ amount, baseUnit }])
  })

  test("sizes of the shipped thing are no contents, and a date that is none is not known", () => {
    expect(factsOf(elements(["3303", "001250"], ["17", "261332"]), TODAY)).toEqual(NOTHING)
  })
})
