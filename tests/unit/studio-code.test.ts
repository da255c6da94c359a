import fc from "fast-check"
import { describe, expect, test } from "vitest"
import { checkCharacter } from "../../server/domain/check-character.ts"
import {
  containerCode,
  cupSerial,
  mixCode,
  parseStudioCode,
  studioCodeProblem,
} from "../../server/domain/studio-code.ts"

describe("the studio's own codes", () => {
  test("K, T or M, four digits without I L O U, and a check character", () => {
    expect(containerCode(1)).toBe(`K0001${checkCharacter("K0001")}`)
    expect(cupSerial(31)).toBe(`T000Z${checkCharacter("T000Z")}`)
    expect(mixCode(32)).toBe(`M0010${checkCharacter("M0010")}`)
  })

  test("they grow a digit when four are used up", () => {
    expect(containerCode(32 ** 4 - 1)).toMatch(/^KZZZZ.$/)
    expect(containerCode(32 ** 4)).toMatch(/^K10000.$/)
  })

  test("there is no container 0, −1, 1.5 or past a thousand million", () => {
    for (const n of [0, -1, 1.5, Number.NaN, 32 ** 6]) expect(() => containerCode(n)).toThrow(RangeError)
  })

  test("every code given out is read back, and no two are alike", () => {
    const makers = { container: containerCode, cup: cupSerial, mix: mixCode } as const
    const kinds = fc.constantFrom("container", "cup", "mix" as const)
    const number = fc.oneof(fc.integer({ min: 1, max: 2_000_000 }), fc.integer({ min: 1, max: 32 ** 6 - 1 }))
    fc.assert(
      fc.property(kinds, number, number, (kind, n, other) => {
        const code = makers[kind](n)
        expect(parseStudioCode(code)).toEqual({ kind, code })
        expect(studioCodeProblem(code)).toBeNull()
        if (other !== n) expect(makers[kind](other)).not.toBe(code)
      }),
    )
  })

  test("small letters, spaces and hyphens do not matter; O is read as 0, I and L as 1", () => {
    const code = containerCode(1)
    const check = code.at(-1)!
    expect(parseStudioCode(` k00-01 ${check.toLowerCase()} `)).toEqual({ kind: "container", code })
    expect(parseStudioCode(`kOOOl${check}`)).toEqual({ kind: "container", code })
    expect(parseStudioCode(`K000I${check}`)).toEqual({ kind: "container", code })
  })

  test("a wrong check character is no code, and a sentence says so", () => {
    const code = cupSerial(7)
    const wrong = code.slice(0, -1) + (code.endsWith("A") ? "B" : "A")
    expect(parseStudioCode(wrong)).toBeNull()
    expect(studioCodeProblem(wrong)).toBe(
      `If ${wrong} is the code of a cup, a character is wrong: scan it or retype it, minding 0 and O, 1 and I.`,
    )
  })

  test.each([
    "",
    "K",
    "K1",
    "hello",
    "X0001A",
    "K00001A",
    "KU001A",
    "4000000000006",
    "K0001",
    "M".repeat(300),
  ])("“%s” does not look like one, and no sentence is made of it", (text) => {
    expect(parseStudioCode(text)).toBeNull()
    expect(studioCodeProblem(text)).toBeNull()
  })
})
