import { describe, expect, test } from "vitest"
import { readCode, type Symbology } from "../../server/domain/gs1.ts"

const GS = "\u001d"
// in the prefix that GS1 keeps for examples; the carton's number has packing level 1
const [ITEM, CARTON] = ["09521234500018", "19521234500015"]

describe("what the bars are says what they may hold", () => {
  test("an ITF-14 holds a number of 14 digits with a right check digit, and nothing else", () => {
    expect(readCode({ text: CARTON, symbology: "ITF-14" })).toMatchObject({ kind: "item", gtin14: CARTON })
    expect(readCode({ text: "19521234500016", symbology: "ITF-14" })).toMatchObject({ kind: "bad" })
    expect(readCode({ text: "9521234500018", symbology: "ITF-14" })).toMatchObject({ kind: "bad" })
  })

  test.each([
    "GS1-128",
    "GS1 DataMatrix",
    "GS1 QR",
    "DataBar",
    "DataBar Expanded",
  ] as const satisfies readonly Symbology[])(
    "%s holds elements, also where no item number comes first",
    (symbology) => {
      const read = readCode({ text: `10AB-12${GS}01${ITEM}`, symbology })
      expect(read).toMatchObject({ kind: "item", gtin14: ITEM })
      expect(readCode({ text: `01${ITEM.slice(0, 13)}9`, symbology })).toMatchObject({ kind: "bad" })
    },
  )

  test("the same characters in plain bars that hold anything are text", () => {
    for (const symbology of ["Code 39", "Code 128", "QR", "DataMatrix"] as const)
      expect(readCode({ text: "10AB-12", symbology })).toMatchObject({ kind: "text", text: "10AB-12" })
  })
})
