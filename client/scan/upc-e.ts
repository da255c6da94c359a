import {
  BarcodeFormat,
  type BitArray,
  EAN13Reader,
  NotFoundException,
  OneDReader,
  Result,
  ResultPoint,
} from "@zxing/library"
import { expandUpcE } from "../../server/domain/gs1/item-number.ts"

/** White, black, white, black, white, black: one module each. */
const END_GUARD = Int32Array.of(1, 1, 1, 1, 1, 1)

/**
 * Which of the six digits have even parity (bit 5: the first) says the number system and check digit, by their
 * place here (GS1 General Specifications, number set encodation of UPC-E).
 */
const PARITIES: readonly (readonly number[])[] = [
  [0b111000, 0b110100, 0b110010, 0b110001, 0b101100, 0b100110, 0b100011, 0b101010, 0b101001, 0b100101],
  [0b000111, 0b001011, 0b001101, 0b001110, 0b010011, 0b011001, 0b011100, 0b010101, 0b010110, 0b011010],
]

/** Reads UPC-E. The library has a reader of its own for it, but in the version that runs here it never succeeds. */
export class UpcEReader extends OneDReader {
  override decodeRow(rowNumber: number, row: BitArray): Result {
    const start = EAN13Reader.findStartGuardPattern(row)
    const { digits, parity, end } = readDigits(row, start[1]!)
    const endGuard = EAN13Reader.findGuardPatternWithoutCounters(row, end, true, END_GUARD)
    // the guard follows the last digit at once, and bright label follows the guard
    const [guardStart, guardEnd] = [endGuard[0]!, endGuard[1]!]
    const quietEnd = guardEnd + (guardEnd - guardStart)
    if (guardStart !== end || quietEnd >= row.getSize() || !row.isRange(guardEnd, quietEnd, false))
      throw new NotFoundException()

    const code = withEnds(digits, parity)
    if (!expandUpcE(code).ok) throw new NotFoundException()
    const points = [new ResultPoint(start[0]!, rowNumber), new ResultPoint(guardEnd, rowNumber)]
    return new Result(code, null as unknown as Uint8Array, 0, points, BarcodeFormat.UPC_E)
  }

  override reset(): void {
    // nothing is kept from row to row
  }
}

function readDigits(row: BitArray, from: number): { digits: string; parity: number; end: number } {
  const widths = new Int32Array(4)
  let digits = ""
  let parity = 0
  let at = from
  for (let place = 5; place >= 0; place--) {
    const match = EAN13Reader.decodeDigit(row, widths, at, EAN13Reader.L_AND_G_PATTERNS)
    // the patterns of even parity come after the ten of odd
    if (match >= 10) parity |= 1 << place
    digits += String(match % 10)
    at += widths.reduce((sum, width) => sum + width, 0)
  }
  return { digits, parity, end: at }
}

function withEnds(digits: string, parity: number): string {
  for (const [system, parities] of PARITIES.entries()) {
    const check = parities.indexOf(parity)
    if (check >= 0) return `${system}${digits}${check}`
  }
  throw new NotFoundException()
}
