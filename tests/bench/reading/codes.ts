import { gtinCheckDigit, type Symbology } from "../../../server/domain/gs1.ts"
import type { Chance } from "../../support/chance.ts"

const GS = "\u001d"
const LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ0123456789-"

/** A barcode to be drawn: how bwip-js calls it and what it is given, and what a reader has to say. */
export interface Sample {
  bcid: string
  text: string
  reads: { code: string; symbology: Symbology }
  flat: boolean
}

/** One row of the table: a symbology as bwip-js writes it, with ever new numbers. */
export interface Kind {
  name: string
  sample: (random: Chance) => Sample
}

function kind(
  symbology: Symbology,
  bcid: string,
  make: (random: Chance) => string | { text: string; code: string },
  name: string = symbology,
): Kind {
  const flat = /datamatrix|qrcode/.test(bcid)
  return {
    name,
    sample: (random) => {
      const made = make(random)
      const { text, code } = typeof made === "string" ? { text: made, code: made } : made
      return { bcid, text, reads: { code, symbology }, flat }
    },
  }
}

/** Everything that a supplier may print. Numbers are invented ones in the prefix that GS1 keeps for examples. */
export const KINDS: readonly Kind[] = [
  kind("EAN-13", "ean13", (random) => checked(`952${digits(random, 9)}`)),
  // 2…: restricted circulation inside one company, since an EAN-8 has no prefix for examples
  kind("EAN-8", "ean8", (random) => checked(`2${digits(random, 6)}`)),
  kind("UPC-A", "upca", (random) => checked(`4${digits(random, 10)}`)),
  kind("UPC-E", "upce", (random) => {
    // ends in 5 to 9: the five digits before stay where they are and four zeros are left out after them
    const [maker, last] = [digits(random, 5, 1), 5 + random.below(5)]
    return `0${maker}${last}${gtinCheckDigit(`0${maker}0000${last}`)}`
  }),
  kind("ITF-14", "itf14", (random) => checked(`1952${digits(random, 9)}`)),
  kind("Code 128", "code128", (random) => letters(random, 10)),
  kind("Code 39", "code39", (random) => letters(random, 8)),
  kind("GS1-128", "gs1-128", elements),
  kind("GS1 DataMatrix", "gs1datamatrix", elements),
  kind("GS1 QR", "gs1qrcode", elements),
  kind("DataBar", "databaromni", item),
  kind("DataBar", "databarstackedomni", item, "DataBar stacked"),
  kind("DataBar", "databarlimited", item, "DataBar limited"),
  kind("DataBar Expanded", "databarexpanded", elements),
  kind("QR", "qrcode", (random) => `https://kit.example/${letters(random, 8)}?n=${digits(random, 4)}`),
  kind("DataMatrix", "datamatrix", (random) => letters(random, 12)),
]

function item(random: Chance): { text: string; code: string } {
  const number = checked(`0952${digits(random, 9)}`)
  return { text: `(01)${number}`, code: `01${number}` }
}

/** An item with its lot, and after the separator its last day. */
function elements(random: Chance): { text: string; code: string } {
  const number = checked(`0952${digits(random, 9)}`)
  const lot = `L${digits(random, 5)}`
  return { text: `(01)${number}(10)${lot}(17)271231`, code: `01${number}10${lot}${GS}17271231` }
}

function checked(body: string): string {
  return body + gtinCheckDigit(body)
}

function digits(random: Chance, count: number, from = 0): string {
  return Array.from({ length: count }, () => from + random.below(10 - from)).join("")
}

function letters(random: Chance, count: number): string {
  // not a gap or dash at either end
  const any = Array.from({ length: count - 2 }, () => LETTERS[random.below(LETTERS.length)]).join("")
  return `K${any}7`
}
