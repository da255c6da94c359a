import { describe, expect, test } from "vitest"
import { parseDigitalLink } from "../../server/domain/gs1/digital-link.ts"
import { parseBracketed, parseElementString } from "../../server/domain/gs1/elements.ts"
import { gtinCheckDigit, readCode, SYMBOLOGIES } from "../../server/domain/gs1.ts"
import { GS } from "../support/gs1-strings.ts"

/** An invented number in prefix 952. */
const ITEM = `0952000012345${gtinCheckDigit("0952000012345")}`
const OTHER = `0952000012346${gtinCheckDigit("0952000012346")}`
const pieces = (...all: [string, string][]) => all.map(([ai, value]) => ({ ai, value }))
const right = (...all: [string, string][]) => ({ ok: true, elements: pieces(...all), doubts: [] })

describe("an element string as scanners send it", () => {
  test("pieces of fixed length run on; a lot ends at the separator", () => {
    expect(parseElementString(`01${ITEM}1726120310AB-12${GS}217`)).toEqual(
      right(["01", ITEM], ["17", "261203"], ["10", "AB-12"], ["21", "7"]),
    )
  })

  test("a separator too many does no harm: in front, at the end, behind a fixed length", () => {
    expect(parseElementString(`${GS}01${ITEM}${GS}${GS}10A${GS}`)).toEqual(right(["01", ITEM], ["10", "A"]))
  })

  test.each(["␝", "<GS>", "{GS}", "^]"])("%s is a separator written out", (sign) => {
    expect(parseElementString(`10A1${sign}217`)).toEqual(right(["10", "A1"], ["21", "7"]))
  })

  test("optional parts may be missing", () => {
    // 8003: a zero, thirteen digits, and perhaps a serial of up to sixteen
    const asset = `0952000012345${gtinCheckDigit("952000012345")}`
    expect(parseElementString(`8003${asset}`)).toEqual(right(["8003", asset]))
    expect(parseElementString(`8003${asset}SER-1`)).toEqual(right(["8003", `${asset}SER-1`]))
  })

  test("the same piece twice is one; two that differ are refused", () => {
    expect(parseElementString(`10A${GS}10A`)).toEqual(right(["10", "A"]))
    expect(parseElementString(`10A${GS}10B`)).toEqual({
      ok: false,
      message: "This code says two different things in one place: type what the label says.",
    })
  })

  test.each([
    ["", "This code says nothing: scan it again."],
    [GS, "This code says nothing: scan it again."],
    ["ABC", "This code does not begin as a GS1 code does: type what the label says."],
    [
      `01${ITEM.slice(0, -1)}${(Number(ITEM.at(-1)) + 1) % 10}`,
      "The check digit of the item number in this code is wrong: scan it again.",
    ],
    ["0109520000", "The item number in this code is too long or too short: scan it again."],
    [`01095200${GS}0012345`, "The item number in this code is too long or too short: scan it again."],
    ["01ABCDEFGHIJKLMN", "The item number in this code must be all digits: scan it again."],
    ["10", "The lot number in this code is too long or too short: scan it again."],
    [`10${"x".repeat(21)}`, "The lot number in this code is too long or too short: scan it again."],
    ["10A\u200bB", "The lot number in this code holds an invisible character: scan it again."],
    [
      `01${ITEM}?!`,
      "This code cannot be taken apart to its end: scan it again, or type what the label says.",
    ],
    ["4100000000000016", "The check digit of the part “ship to loc” in this code is wrong: scan it again."],
  ])("“%s” is refused in one sentence", (text, message) => {
    expect(parseElementString(text)).toEqual({ ok: false, message })
  })

  test("a date that is none spoils only itself", () => {
    for (const six of ["261332", "260001", "260230", "999999"]) {
      expect(parseElementString(`01${ITEM}17${six}`)).toEqual({
        ok: true,
        elements: pieces(["01", ITEM], ["17", six]),
        doubts: ["The expiry date in this code is no date: read it from the label."],
      })
    }
    expect(parseElementString("17260200")).toEqual(right(["17", "260200"]))
  })

  test("a character that the standard does not allow is read, with a word about it", () => {
    expect(parseElementString("10LOT 5#")).toEqual({
      ok: true,
      elements: pieces(["10", "LOT 5#"]),
      doubts: ["The lot number holds a character that its code should not: compare it with the label."],
    })
  })
})

describe("an element string as it is printed, in brackets", () => {
  test("with or without spaces, in digits spaced for reading", () => {
    const spaced = `${ITEM.slice(0, 1)} ${ITEM.slice(1, 7)} ${ITEM.slice(7)}`
    expect(parseBracketed(`(01) ${spaced} (17) 261203 (10) AB-12`)).toEqual(
      right(["01", ITEM], ["17", "261203"], ["10", "AB-12"]),
    )
  })

  test("brackets of the data: with a backslash, or around what is no identifier", () => {
    expect(parseBracketed("(10)A\\(21)(21)7")).toEqual(right(["10", "A(21)"], ["21", "7"]))
    expect(parseBracketed("(10)A(18)B")).toEqual(right(["10", "A(18)B"]))
  })

  test("what does not begin with an identifier in brackets is something else", () => {
    for (const text of ["", "Teal (10) glitter", "(18)5", "10A", "()", "(1)x"])
      expect(parseBracketed(text)).toBeNull()
  })
})

describe("a GS1 Digital Link", () => {
  test("on any domain, behind any path of the site's own", () => {
    expect(parseDigitalLink(`https://example.com/01/${ITEM}`)).toEqual(right(["01", ITEM]))
    expect(
      parseDigitalLink(`HTTP://shop.example:8080/a/b/01/${ITEM}/22/2A/10/AB-12/21/7/?17=261203&x=1#top`),
    ).toEqual(right(["01", ITEM], ["22", "2A"], ["10", "AB-12"], ["21", "7"], ["17", "261203"]))
  })

  test("percent signs are undone", () => {
    expect(parseDigitalLink(`https://example.com/01/${ITEM}/10/A%2F1?240=B%262`)).toEqual(
      right(["01", ITEM], ["10", "A/1"], ["240", "B&2"]),
    )
  })

  test("shorter item numbers of older links get their zeros", () => {
    expect(parseDigitalLink(`https://example.com/01/${ITEM.slice(1)}`)).toEqual(right(["01", ITEM]))
  })

  test("a wrong check digit is refused", () => {
    const wrong = ITEM.slice(0, -1) + ((Number(ITEM.at(-1)) + 1) % 10)
    expect(parseDigitalLink(`https://example.com/01/${wrong}`)).toMatchObject({ ok: false })
  })

  test.each([
    "https://example.com/",
    "https://example.com/01",
    "https://example.com/01/2024/news",
    "https://example.com/blog/01/hello",
    `https://example.com/10/AB/01`,
    `https://example.com/01/${ITEM}/10`,
    // lot before variant is no order that the standard has
    `https://example.com/01/${ITEM}/10/A/22/B`,
    `https://example.com/01/${ITEM}/17/261203`,
    `https://example.com/01/%E0%A4%A`,
    `ftp://example.com/01/${ITEM}`,
    `example.com/01/${ITEM}`,
    "https://",
  ])("%s is another address", (address) => {
    expect(parseDigitalLink(address)).toBeNull()
  })
})

describe("a GS1 code in any bars is the item that it names", () => {
  const item = (...all: [string, string][]) => ({
    kind: "item",
    gtin14: ITEM,
    shown: ITEM,
    said: { elements: pieces(...all), doubts: [] },
  })
  const inAnyBars = ["Code 128", "DataMatrix", "QR", "typed"] as const

  test.each(inAnyBars)(
    "%s: with a symbology identifier, a leading separator, in brackets, as an address",
    (symbology) => {
      const expected = item(["01", ITEM], ["10", "A-X"])
      for (const text of [
        `]C101${ITEM}10A-X`,
        `]d201${ITEM}10A-X${GS}\r\n`,
        `]Q301${ITEM}10A-X`,
        `]e001${ITEM}10A-X`,
        `${GS}01${ITEM}10A-X`,
        `01${ITEM}10A-X`,
        `(01)${ITEM}(10)A-X`,
        `]Q1https://example.com/01/${ITEM}/10/A-X`,
        `https://example.com/01/${ITEM}/10/A-X`,
      ]) {
        expect(readCode({ text, symbology }), text).toEqual(expected)
      }
    },
  )

  test("]E0 and ]E4 are trade item numbers, of other bars with free data anything", () => {
    const ean13 = ITEM.slice(1)
    expect(readCode({ text: `]E0${ean13}`, symbology: "typed" })).toEqual({
      kind: "item",
      gtin14: ITEM,
      shown: ean13,
    })
    const ean8 = `9521234${gtinCheckDigit("9521234")}`
    expect(readCode({ text: `]E4${ean8}`, symbology: "typed" })).toMatchObject({ kind: "item", shown: ean8 })
    // as a hand-held scanner sends it, no question which of two eight-digit codes it is
    expect(readCode({ text: "]E401234565", symbology: "typed" })).toMatchObject({ gtin14: "00000001234565" })
    expect(readCode({ text: "]C0SHELF 5", symbology: "typed" })).toMatchObject({
      kind: "text",
      text: "SHELF 5",
    })
    expect(readCode({ text: `]I1${ITEM}`, symbology: "typed" })).toMatchObject({ kind: "item", gtin14: ITEM })
  })

  test("where separators were lost, what may have run together is said", () => {
    expect(readCode({ text: `01${ITEM}10AB-12217`, symbology: "Code 128" })).toMatchObject({
      kind: "item",
      said: {
        doubts: [
          "The lot number may have run together with what stands behind it: compare it with the label.",
        ],
      },
    })
    // a reader that says what it read keeps its separators
    expect(readCode({ text: `]C101${ITEM}10AB-12217`, symbology: "Code 128" })).toMatchObject({
      said: { doubts: [] },
    })
  })

  test("a carton's code names what is inside", () => {
    expect(readCode({ text: `]C102${OTHER}3712`, symbology: "Code 128" })).toMatchObject({
      kind: "item",
      gtin14: OTHER,
    })
  })

  test("one that names no item is text, with what it says", () => {
    expect(readCode({ text: "]C110AB-12", symbology: "Code 128" })).toEqual({
      kind: "text",
      text: "10AB-12",
      doubt: null,
      said: { elements: pieces(["10", "AB-12"]), doubts: [] },
    })
  })

  test("digits that only look like it are text, and so is what a person writes in brackets", () => {
    const wrong = ITEM.slice(0, -1) + ((Number(ITEM.at(-1)) + 1) % 10)
    expect(readCode({ text: `01${wrong}`, symbology: "Code 128" })).toMatchObject({ kind: "text" })
    expect(readCode({ text: "(12) cups", symbology: "typed" })).toMatchObject({ kind: "text" })
    expect(readCode({ text: `[)>\u001e06${GS}1PABC`, symbology: "DataMatrix" })).toMatchObject({
      kind: "text",
    })
  })

  test("one that says it is GS1 and is wrong is refused in a sentence", () => {
    const wrong = ITEM.slice(0, -1) + ((Number(ITEM.at(-1)) + 1) % 10)
    for (const text of [
      `]C101${wrong}`,
      `${GS}01${wrong}`,
      `(01)${wrong}`,
      `https://example.com/01/${wrong}`,
    ]) {
      expect(readCode({ text, symbology: "DataMatrix" }), text).toEqual({
        kind: "bad",
        message: "The check digit of the item number in this code is wrong: scan it again.",
      })
    }
  })

  test("a long one is read, one past all measure is not", () => {
    const long = `]d201${ITEM}8200${"x".repeat(70)}${GS}91${"y".repeat(90)}${GS}92${"z".repeat(90)}`
    expect(readCode({ text: long, symbology: "DataMatrix" })).toMatchObject({ kind: "item", gtin14: ITEM })
    for (const symbology of SYMBOLOGIES) {
      expect(readCode({ text: `]d201${ITEM}${"9".repeat(5_000)}`, symbology })).toMatchObject({ kind: "bad" })
    }
  })
})
