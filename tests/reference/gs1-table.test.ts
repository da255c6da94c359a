import { createHash } from "node:crypto"
import { existsSync, readFileSync } from "node:fs"
import { describe, expect, test } from "vitest"
import { AI_TABLE } from "../../server/domain/gs1/ai-table.ts"
import { identifier, identifierAt } from "../../server/domain/gs1/identifiers.ts"
import { ALL_AIS } from "../support/gs1-strings.ts"
import { rowsOfDictionary } from "../support/gs1-table.ts"

/** Where a copy of the GS1 Barcode Syntax Dictionary lies, if there is one here. */
const DICTIONARY = process.env.GS1_DICTIONARY ?? ""

describe("the table of application identifiers", () => {
  test.skipIf(!existsSync(DICTIONARY))("is what the GS1 Barcode Syntax Dictionary says, row by row", () => {
    expect(AI_TABLE).toEqual(rowsOfDictionary(readFileSync(DICTIONARY, "utf8")))
  })

  test("is as it was made: nobody has changed a row by hand", () => {
    // of the rows made from the dictionary whose head says "Release: UNSET", copyright 2021-2025
    expect(createHash("sha256").update(JSON.stringify(AI_TABLE)).digest("hex")).toBe(
      "0f523acacf84449ea7170a3816c34e612ea87d692352f11eddad10fbd4d71b15",
    )
  })

  test("a line of the dictionary becomes a row", () => {
    const lines = [
      "# a remark",
      "",
      "01         *?  N14,csum,gcppos2                  ex=255,37 dlpkey=22,10,21|235                      # GTIN",
      "253         ?  N13,csum,gcppos1 [X..17]          dlpkey                                             # GDTI",
      "3100-3105  *?  N6                                req=01,02 ex=310n                                  # NET WEIGHT (kg)",
      "7030        ?  N3,iso3166999 X..27               req=01,02                                          # PROCESSOR # 0",
      "21             X..20                             req=01,03,8006 ex=235                              # SERIAL",
      "8112        ?  X..70,couponposoffer",
    ]
    expect(rowsOfDictionary(lines.join("\n"))).toEqual([
      ["01", "N14,csum", "*?", "GTIN", "22,10,21|235"],
      ["253", "N13,csum [X..17]", "?", "GDTI", ""],
      ["3100-3105", "N6", "*?", "NET WEIGHT (kg)"],
      ["7030", "N3 X..27", "?", "PROCESSOR # 0"],
      ["21", "X..20", "", "SERIAL"],
      ["8112", "X..70", "?", ""],
    ])
  })

  test("no identifier is the beginning of another, so that each is told without a separator", () => {
    expect(new Set(ALL_AIS).size).toBe(ALL_AIS.length)
    for (const ai of ALL_AIS) expect(identifierAt(`${ai}123`)?.ai, ai).toBe(ai)
  })

  test("fixed lengths are the standard's own list by first two digits", () => {
    // GS1 General Specifications, figure 7.8.5-2: lengths with the identifier counted (from memory, agreeing with
    // the dictionary's flags)
    const WITH_AI: Record<string, number> = {
      "00": 20,
      "01": 16,
      "02": 16,
      "03": 16,
      "11": 8,
      "12": 8,
      "13": 8,
      "15": 8,
      "16": 8,
      "17": 8,
      "20": 4,
      "31": 10,
      "32": 10,
      "33": 10,
      "34": 10,
      "35": 10,
      "36": 10,
      "41": 16,
    }
    for (const ai of ALL_AIS) {
      const fixed = identifier(ai)!.fixedLength
      expect(fixed === null ? undefined : fixed + ai.length, ai).toBe(WITH_AI[ai.slice(0, 2)])
    }
  })
})
