import {
  BarcodeFormat,
  BinaryBitmap,
  DecodeHintType,
  HybridBinarizer,
  MultiFormatReader,
  RGBLuminanceSource,
} from "@zxing/library"
import bwip from "bwip-js/node"
import { parseBarcode } from "gs1-barcode-parser-mod"
import sharp from "sharp"
import { describe, expect, test } from "vitest"
import { dateOfSix } from "../../server/domain/gs1/dates.ts"
import { parseElementString } from "../../server/domain/gs1/elements.ts"
import { factsOf } from "../../server/domain/gs1/facts.ts"
import { identifier } from "../../server/domain/gs1/identifiers.ts"
import { readCode } from "../../server/domain/gs1.ts"
import { chance } from "../support/chance.ts"
import { ALL_AIS, elementString, someValue } from "../support/gs1-strings.ts"

const pieces = (...all: [string, string][]) => all.map(([ai, value]) => ({ ai, value }))

describe("dates YYMMDD (GS1 General Specifications)", () => {
  test("day 00 is the last day of the month", () => {
    expect(dateOfSix("261200", "2026-11-25")).toBe("2026-12-31")
    expect(dateOfSix("270200", "2026-11-25")).toBe("2027-02-28")
    expect(dateOfSix("280200", "2026-11-25")).toBe("2028-02-29")
  })

  // y − c from 51 to 99: last century; from −99 to −50: next; else this one
  test.each([
    ["2026-11-25", "760101", "2076-01-01"], // 50
    ["2026-11-25", "770101", "1977-01-01"], // 51
    ["2026-11-25", "000101", "2000-01-01"], // −26
    ["2049-11-25", "000101", "2000-01-01"], // −49
    ["2050-11-25", "000101", "2100-01-01"], // −50
    ["2099-11-25", "000101", "2100-01-01"], // −99
    ["2000-11-25", "990101", "1999-01-01"], // 99
    ["2000-11-25", "500101", "2050-01-01"], // 50
  ])("seen on %s, %s is %s", (today, six, date) => {
    expect(dateOfSix(six, today)).toBe(date)
  })
})

// invented, in prefix 952; bwip-js refuses to draw another check digit
const GTIN = "09520000123451"
const SAID = "(01)09520000123451(17)261203(3103)001250(10)AB-12(21)7/x"
const ELEMENTS = pieces(["01", GTIN], ["17", "261203"], ["3103", "001250"], ["10", "AB-12"], ["21", "7/x"])

describe("codes drawn by an independent writer (bwip-js) and read back", () => {
  /** What a reader without any idea of ours makes of a drawn code. */
  async function readDrawn(bcid: string, text: string, format: BarcodeFormat): Promise<string> {
    const drawn = await bwip.toBuffer({ bcid, text, scale: 3, padding: 12, backgroundcolor: "FFFFFF" })
    const { data, info } = await sharp(drawn).grayscale().raw().toBuffer({ resolveWithObject: true })
    const source = new RGBLuminanceSource(new Uint8ClampedArray(data), info.width, info.height)
    const hints = new Map<DecodeHintType, unknown>([
      [DecodeHintType.POSSIBLE_FORMATS, [format]],
      [DecodeHintType.TRY_HARDER, true],
      // without it FNC1 is dropped from a Code 128
      [DecodeHintType.ASSUME_GS1, true],
    ])
    return new MultiFormatReader().decode(new BinaryBitmap(new HybridBinarizer(source)), hints).getText()
  }

  test.each([
    ["gs1-128", BarcodeFormat.CODE_128, "Code 128"],
    ["gs1datamatrix", BarcodeFormat.DATA_MATRIX, "DataMatrix"],
    ["gs1qrcode", BarcodeFormat.QR_CODE, "QR"],
  ] as const)("%s says what was written", async (bcid, format, symbology) => {
    const text = await readDrawn(bcid, SAID, format)
    expect(readCode({ text, symbology })).toEqual({
      kind: "item",
      gtin14: GTIN,
      shown: GTIN,
      said: { elements: ELEMENTS, doubts: [] },
    })
  })

  test("a Digital Link in a QR code says it too", async () => {
    const link = `https://example.com/shop/01/${GTIN}/10/AB-12/21/7%2Fx?17=261203&3103=001250&linkType=gs1:pip`
    const text = await readDrawn("gs1dlqrcode", link, BarcodeFormat.QR_CODE)
    const read = readCode({ text, symbology: "QR" })
    expect(read).toMatchObject({ kind: "item", gtin14: GTIN })
    const said = read.kind === "item" ? (read.said?.elements ?? []) : []
    expect(factsOf(said, "2026-11-25")).toMatchObject({
      lot: "AB-12",
      serial: "7/x",
      expiresOn: "2026-12-03",
      contents: [{ amount: 1_250_000, baseUnit: "mg" }],
    })
  })
})

describe("against an independent parser of GS1 strings (gs1-barcode-parser-mod)", () => {
  /** What the two make of a string: identifier and data, or nothing. */
  const theirs = (text: string) => {
    try {
      return parseBarcode(`]C1${text}`).parsedCodeItems.map(({ ai, raw }) => ({ ai, value: raw }))
    } catch {
      return null
    }
  }
  const ours = (text: string) => {
    const read = parseElementString(text)
    return read.ok ? read.elements : null
  }

  /** Identifiers of later editions of the standard than its own. */
  const UNREAD = ["7041", "717", "8014", "8040", "8041", "8042", "8043", "8111", "8112"]
  /** Lists (of countries, and from a day to a day) of which it takes the first and stumbles over the rest. */
  const FIRST_ONLY = ["425", "7007"]

  test("lists are read whole, where the other reads the first alone", () => {
    // GS1 Barcode Syntax Dictionary: 425 N3 [N3] [N3] [N3] [N3], 7007 N6 [N6]
    expect(ours("425276756")).toEqual(pieces(["425", "276756"]))
    expect(theirs("425276756")).toBeNull()
    expect(ours("7007260501260503")).toEqual(pieces(["7007", "260501260503"]))
    expect(theirs("7007260501260503")).not.toEqual(pieces(["7007", "260501260503"]))
  })

  test("every identifier of the table is read alike, but for nine that it does not know", () => {
    const random = chance(1)
    const unread = ALL_AIS.filter((ai) => {
      const whole = someValue(identifier(ai)!, random)
      const value = FIRST_ONLY.includes(ai) ? whole.slice(0, identifier(ai)!.components[0]!.max) : whole
      expect(ours(ai + value), ai).toEqual(pieces([ai, value]))
      const read = theirs(ai + value)
      if (read !== null) expect(read, ai).toEqual(pieces([ai, value]))
      return read === null
    })
    expect(unread).toEqual(UNREAD)
  })

  test("2,000 right strings of up to six elements are taken apart alike", () => {
    const random = chance(2)
    const known = ALL_AIS.filter((ai) => !UNREAD.includes(ai) && !FIRST_ONLY.includes(ai))
    for (let nth = 0; nth < 2_000; nth++) {
      const ais = new Set(
        Array.from({ length: 1 + random.below(6) }, () => known[random.below(known.length)]!),
      )
      const made = [...ais].map((ai) => ({ ai, value: someValue(identifier(ai)!, random) }))
      const text = elementString(made)
      expect(ours(text), text).toEqual(made)
      expect(theirs(text), text).toEqual(made)
    }
  })

  test("dates of the same day, any year of the hundred, day 00 the last of its month", () => {
    const today = new Date().toISOString().slice(0, 10)
    for (let yy = 0; yy < 100; yy++) {
      for (const rest of ["0100", "0200", "0228", "0430", "1231"]) {
        const six = String(yy).padStart(2, "0") + rest
        expect(dateOfSix(six, today), six).toBe(parseBarcode(`]C117${six}`).parsedCodeItems[0]?.isoDate)
      }
    }
  })
})
