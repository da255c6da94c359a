import { parseElementString } from "../../server/domain/gs1/elements.ts"
import { expandUpcE, parseItemNumber } from "../../server/domain/gs1/item-number.ts"
import type { Symbology } from "../../server/domain/gs1.ts"

/** A code as the camera, a photo or the hand-held scanner read it: the separators of GS1 codes are kept (0x1D). */
export interface Scan {
  code: string
  symbology: Symbology
}

/** A code seen in a frame: `sure` when it counts at once, else when a second frame says the same. */
export interface Sighting extends Scan {
  sure: boolean
}

/** What an engine saw in one look. */
export interface Reading extends Scan {
  /**
   * How many lines across the bars say so, as far as they say it independently: lines of a picture enlarged twice
   * count half. A code of two dimensions corrects its own errors and needs no second line.
   */
  lines: number
  /** looked at along the bars, where no line leaves them above or below */
  straight: boolean
}

const SHORTEST_CODE_39 = 3

/**
 * Whether a code counts only when two frames, or two looks at a photo, agree: it is short, or without a check of
 * its own, and turns up by chance within longer ones; or it should hold GS1 elements and does not quite.
 */
export function isWeak({ code, symbology }: Scan): boolean {
  switch (symbology) {
    case "EAN-8":
    case "UPC-E":
    case "ITF-14":
    case "Code 39":
      return true
    case "GS1-128":
    case "DataBar Expanded": {
      const read = parseElementString(code)
      return !read.ok || read.doubts.length > 0
    }
    case "EAN-13":
    case "UPC-A":
    case "Code 128":
    case "DataMatrix":
    case "GS1 DataMatrix":
    case "QR":
    case "GS1 QR":
    case "DataBar":
    case "typed":
      return false
  }
}

/** Whether a code can be what its bars say: length and check digit, where they have them. */
export function isRight({ code, symbology }: Scan): boolean {
  switch (symbology) {
    case "EAN-13":
      return isItem(code, 13)
    case "UPC-A":
      return isItem(code, 12)
    case "EAN-8":
      return isItem(code, 8)
    case "ITF-14":
      return isItem(code, 14)
    case "UPC-E":
      return expandUpcE(code).ok
    case "DataBar":
      return code.startsWith("01") && isItem(code.slice(2), 14)
    case "Code 39":
      return code.length >= SHORTEST_CODE_39
    case "Code 128":
    case "GS1-128":
    case "DataMatrix":
    case "GS1 DataMatrix":
    case "QR":
    case "GS1 QR":
    case "DataBar Expanded":
    case "typed":
      return code !== ""
  }
}

function isItem(code: string, length: number): boolean {
  return code.length === length && parseItemNumber(code).ok
}

/** What says most comes first, where several codes stand side by side: lot and date are in GS1 codes alone. */
const SAY_MOST: readonly Symbology[] = ["GS1 DataMatrix", "GS1 QR", "GS1-128", "DataBar Expanded"]

export function bySaying(a: Scan, b: Scan): number {
  const rank = ({ symbology }: Scan) => (SAY_MOST.includes(symbology) ? 0 : 1)
  return rank(a) - rank(b)
}

/** Whether a code is of two dimensions and corrects its own errors. */
export function isFlat({ symbology }: Scan): boolean {
  switch (symbology) {
    case "DataMatrix":
    case "GS1 DataMatrix":
    case "QR":
    case "GS1 QR":
      return true
    default:
      return false
  }
}
