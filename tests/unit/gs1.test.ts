import { describe, expect, test } from "vitest"
import {
  expandUpcE,
  gtinCheckDigit,
  parseItemNumber,
  readCode,
  SYMBOLOGIES,
} from "../../server/domain/gs1.ts"
import { containerCode, cupSerial } from "../../server/domain/studio-code.ts"

/** Invented numbers: prefix 952 is for examples, a UPC-A that begins with 4 stays inside one company. */
const withCheck = (body: string) => body + gtinCheckDigit(body)
const EAN13 = withCheck("952000000123")
const UPCA = withCheck("41234500017")
const EAN8 = withCheck("9521234")

describe("a trade item number", () => {
  test.each([EAN13, UPCA, EAN8, withCheck("1952000000123")])("%s is kept in its 14-digit form", (digits) => {
    expect(parseItemNumber(digits)).toEqual({ ok: true, gtin14: digits.padStart(14, "0"), shown: digits })
  })

  test("a wrong last digit is named, with what it should be", () => {
    expect(parseItemNumber("036000241450")).toEqual({
      ok: false,
      message: "The last digit should be 7: scan again or retype it.",
    })
  })

  test.each(["", "123", "1234567", "123456789012345", "95200000012a3", "９５２１２３４５"])(
    "“%s” has not its number of digits",
    (digits) => {
      expect(parseItemNumber(digits)).toEqual({
        ok: false,
        message: "The number under the bars has 8, 12, 13 or 14 digits: scan again or retype it.",
      })
    },
  )

  test.each(["00000000", "000000000000", "00000000000000"])("%s stands for nothing", (digits) => {
    expect(parseItemNumber(digits)).toEqual({
      ok: false,
      message: "A number of zeros stands for nothing: scan again or retype it.",
    })
  })
})

describe("a short UPC-E code gets its zeros back where its last digit says", () => {
  // The rule's table (GS1 General Specifications, UPC-E): X is a digit of the six, 0 a zero put back
  test.each([
    ["123450", "0120000034"],
    ["123451", "0121000034"],
    ["123452", "0122000034"],
    ["123453", "0123000004"],
    ["123454", "0123400000"],
    ["123455", "0123450000"],
    ["123459", "0123450000"],
  ])("%s begins %s", (six, begins) => {
    const expanded = expandUpcE(six)
    expect(expanded).toMatchObject({ ok: true })
    if (!expanded.ok) return
    expect(expanded.upcA).toHaveLength(12)
    expect(expanded.upcA.slice(0, 10)).toBe(begins)
    expect(parseItemNumber(expanded.upcA).ok).toBe(true)
  })

  test("number system 1 makes another number than 0", () => {
    expect(expandUpcE(`1123456${gtinCheckDigit("11234500006")}`)).toEqual({
      ok: true,
      upcA: withCheck("11234500006"),
    })
  })

  test.each([
    ["01234560", "The last digit should be 5: scan again or retype it."],
    ["21234565", "A short UPC-E code begins with 0 or 1: scan again or retype it."],
    ["12345", "A short UPC-E code has 8 digits: scan again or retype it."],
    ["12345a", "A short UPC-E code has 8 digits: scan again or retype it."],
  ])("%s is refused in a sentence", (code, message) => {
    expect(expandUpcE(code)).toEqual({ ok: false, message })
  })
})

describe("a code is what its bars and its content say", () => {
  test("EAN-13 and UPC-A of the same item are the same item", () => {
    expect(readCode({ text: UPCA, symbology: "UPC-A" })).toMatchObject({ kind: "item", gtin14: `00${UPCA}` })
    expect(readCode({ text: `0${UPCA}`, symbology: "EAN-13" })).toMatchObject({
      kind: "item",
      gtin14: `00${UPCA}`,
    })
  })

  test("eight digits scanned as EAN-8 stay, scanned as UPC-E are expanded", () => {
    expect(readCode({ text: EAN8, symbology: "EAN-8" })).toEqual({
      kind: "item",
      gtin14: `000000${EAN8}`,
      shown: EAN8,
    })
    expect(readCode({ text: "01234565", symbology: "EAN-8" })).toEqual({
      kind: "item",
      gtin14: "00000001234565",
      shown: "01234565",
    })
    expect(readCode({ text: "012345000065", symbology: "UPC-E" })).toMatchObject({ gtin14: "00012345000065" })
  })

  test("bars read in part, or with a wrong check digit, are scanned again", () => {
    expect(readCode({ text: "95200", symbology: "EAN-13" })).toEqual({
      kind: "bad",
      message: "The bars were only read in part: scan again.",
    })
    expect(readCode({ text: "036000241450", symbology: "UPC-A" })).toEqual({
      kind: "bad",
      message: "The last digit should be 7: scan again or retype it.",
    })
    expect(readCode({ text: "https://example.com", symbology: "EAN-13" })).toMatchObject({ kind: "bad" })
  })

  test("the studio's own codes are known in any symbology that can hold them", () => {
    const code = containerCode(42)
    for (const symbology of ["Code 128", "DataMatrix", "QR", "typed"] as const) {
      expect(readCode({ text: code.toLowerCase(), symbology })).toEqual({
        kind: "studio",
        of: "container",
        code,
      })
    }
  })

  test("a QR code with a web address is text, and so are digits in a Code 128", () => {
    const address = "https://example.com/?a=<b>"
    expect(readCode({ text: address, symbology: "QR" })).toEqual({ kind: "text", text: address, doubt: null })
    expect(readCode({ text: EAN13, symbology: "Code 128" })).toEqual({
      kind: "text",
      text: EAN13,
      doubt: null,
    })
  })

  test("control and invisible characters are dropped, a gap stays a gap", () => {
    expect(readCode({ text: "\u001dA\u0000B\u202eC\u200b\tD\n", symbology: "QR" })).toEqual({
      kind: "text",
      text: "ABC D",
      doubt: null,
    })
    expect(readCode({ text: `${EAN13}\r\n`, symbology: "typed" })).toMatchObject({ kind: "item" })
  })

  test("nothing, or more than 200 characters, is refused in a sentence in every symbology", () => {
    for (const symbology of SYMBOLOGIES) {
      expect(readCode({ text: " \u0000 ", symbology })).toEqual({
        kind: "bad",
        message: "Nothing was read: scan again, or type the digits under the bars.",
      })
      expect(readCode({ text: "x".repeat(201), symbology })).toMatchObject({ kind: "bad" })
    }
    expect(readCode({ text: "x".repeat(200), symbology: "QR" })).toMatchObject({ kind: "text" })
  })
})

describe("typed digits", () => {
  const typed = (text: string) => readCode({ text, symbology: "typed" })

  test("of an item number's length are one, gaps or not", () => {
    expect(typed(EAN13)).toEqual({ kind: "item", gtin14: `0${EAN13}`, shown: EAN13 })
    expect(typed(`${UPCA[0]} ${UPCA.slice(1, 6)}-${UPCA.slice(6)}`)).toMatchObject({
      gtin14: `00${UPCA}`,
      shown: UPCA,
    })
    expect(typed(withCheck("1952000000123"))).toMatchObject({ kind: "item" })
  })

  test("eight that are right only as EAN-8, or only as UPC-E, are that", () => {
    expect(typed(EAN8)).toMatchObject({ kind: "item", gtin14: `000000${EAN8}` })
    // as EAN-8 its last digit would be another
    const upcE = `0425261${gtinCheckDigit("04210000526")}`
    expect(gtinCheckDigit(upcE.slice(0, 7))).not.toBe(Number(upcE[7]))
    expect(typed(upcE)).toMatchObject({ kind: "item", shown: upcE, gtin14: `00${withCheck("04210000526")}` })
  })

  test("eight that are right both ways are asked about", () => {
    // the published UPC-E example: 0·3+1+2·3+3+4·3+5+6·3 = 45, so that it ends in 5 as an EAN-8 too
    expect(typed("01234565")).toMatchObject({
      kind: "ask",
      choices: [
        { gtin14: "00012345000065", shown: "01234565" },
        { gtin14: "00000001234565", shown: "01234565" },
      ],
    })
  })

  test("eight that are right neither way are refused, with what the last digit should be", () => {
    expect(typed("01234560")).toEqual({
      kind: "bad",
      message: "The last digit should be 5: scan again or retype it.",
    })
    const ean8 = gtinCheckDigit("0425261")
    const upcE = gtinCheckDigit("04210000526")
    const neither = [0, 1, 2, 3].find((digit) => digit !== ean8 && digit !== upcE)
    expect(typed(`0425261${neither}`)).toEqual({
      kind: "bad",
      message: `The last digit should be ${upcE} in a UPC-E or ${ean8} in an EAN-8: scan again or retype it.`,
    })
    const wrong = EAN8.slice(0, -1) + ((Number(EAN8.at(-1)) + 1) % 10)
    expect(typed(wrong)).toEqual({
      kind: "bad",
      message: `The last digit should be ${EAN8.at(-1)}: scan again or retype it.`,
    })
    expect(typed("00000000")).toMatchObject({ kind: "bad" })
  })

  test("of another length, and words, are text", () => {
    expect(typed("12345")).toEqual({ kind: "text", text: "12345", doubt: null })
    expect(typed("Teal glitter")).toEqual({ kind: "text", text: "Teal glitter", doubt: null })
  })

  test("a studio code with a wrong character is text in doubt", () => {
    const code = cupSerial(7)
    const wrong = code.slice(0, -1) + (code.endsWith("A") ? "B" : "A")
    expect(typed(wrong)).toMatchObject({
      kind: "text",
      text: wrong,
      doubt: expect.stringContaining("code of a cup"),
    })
  })
})
