import { mod37_36 } from "cdigit"
import fc from "fast-check"
import { describe, expect, test } from "vitest"
import { checkCharacter, hasCheckCharacter } from "../../server/domain/check-character.ts"

describe("ISO/IEC 7064 MOD 37,36", () => {
  test("A12425GABC1234002 has check character M", () => {
    // the example of the Global Release Identifier standard
    expect(checkCharacter("A12425GABC1234002")).toBe("M")
    expect(hasCheckCharacter("A12425GABC1234002M")).toBe(true)
    expect(hasCheckCharacter("A12425GABC1234002N")).toBe(false)
  })

  test("agrees with the independent package cdigit", () => {
    fc.assert(
      fc.property(fc.stringMatching(/^[0-9A-Z]{1,30}$/), (body) => {
        expect(checkCharacter(body)).toBe(mod37_36.compute(body))
      }),
      { numRuns: 2000 },
    )
  })
})
