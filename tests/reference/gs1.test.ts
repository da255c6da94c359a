import { gtin } from "cdigit"
import fc from "fast-check"
import { describe, expect, test } from "vitest"
import { expandUpcE, gtinCheckDigit, parseItemNumber, readCode } from "../../server/domain/gs1.ts"

describe("check digits of GS1 numbers (GS1 General Specifications)", () => {
  test("629104150021 → 3, SSCC 37610425002123456 → 9", () => {
    // GS1, "How to calculate a check digit manually" (from memory; recomputed by cdigit here)
    expect(gtinCheckDigit("629104150021")).toBe(3)
    expect(gtin.compute("629104150021")).toBe("3")
    expect(gtinCheckDigit("37610425002123456")).toBe(9)
    expect(gtin.compute("37610425002123456")).toBe("9")
  })

  test("03600024145 → 7", () => {
    // printed in the encyclopaedia article on check digits
    expect(gtinCheckDigit("03600024145")).toBe(7)
  })

  test("agrees with the independent package cdigit", () => {
    fc.assert(
      fc.property(fc.stringMatching(/^[0-9]{1,17}$/), (body) => {
        expect(String(gtinCheckDigit(body))).toBe(gtin.compute(body))
      }),
      { numRuns: 1000 },
    )
  })

  test("a 12-digit number is the 13-digit one that begins with 0", () => {
    // GS1 General Specifications: GTINs of every length compare in their 14-digit form
    expect(parseItemNumber("036000241457")).toMatchObject({ ok: true, gtin14: "00036000241457" })
    expect(parseItemNumber("0036000241457")).toMatchObject({ ok: true, gtin14: "00036000241457" })
  })
})

describe("UPC-E", () => {
  test("123456 in number system 0 is 012345000065, eight digits 01234565", () => {
    // a scanner maker's manual
    expect(expandUpcE("123456")).toEqual({ ok: true, upcA: "012345000065" })
    expect(expandUpcE("01234565")).toEqual({ ok: true, upcA: "012345000065" })
    expect(readCode({ text: "01234565", symbology: "UPC-E" })).toEqual({
      kind: "item",
      gtin14: "00012345000065",
      shown: "01234565",
    })
  })
})
