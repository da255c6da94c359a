import { BarcodeFormat, DecodeHintType, type Result } from "@zxing/library"
import type { Symbology } from "../../server/domain/gs1.ts"

/** A code as the camera, a photo or the hand-held scanner read it. */
export interface Scan {
  code: string
  symbology: Symbology
}

const NAMES = new Map<BarcodeFormat, Exclude<Symbology, "typed">>([
  [BarcodeFormat.EAN_13, "EAN-13"],
  [BarcodeFormat.EAN_8, "EAN-8"],
  [BarcodeFormat.UPC_A, "UPC-A"],
  [BarcodeFormat.UPC_E, "UPC-E"],
  [BarcodeFormat.CODE_128, "Code 128"],
  [BarcodeFormat.DATA_MATRIX, "DataMatrix"],
  [BarcodeFormat.QR_CODE, "QR"],
])

/** What the reader looks for: only what stands on supplies, and thoroughly. */
export const HINTS = new Map<DecodeHintType, unknown>([
  [DecodeHintType.POSSIBLE_FORMATS, [...NAMES.keys()]],
  [DecodeHintType.TRY_HARDER, true],
])

/** A reader's result in our words; null for a kind of code that was not asked for. */
export function scanOf(result: Result): Scan | null {
  const symbology = NAMES.get(result.getBarcodeFormat())
  return symbology === undefined ? null : { code: result.getText(), symbology }
}
