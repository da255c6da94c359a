import {
  BarcodeFormat,
  type BinaryBitmap,
  DecodeHintType,
  MultiFormatReader,
  type Reader,
  type Result,
} from "@zxing/library"
import { UpcEReader } from "./upc-e.ts"

type Common = "EAN-13" | "EAN-8" | "UPC-A" | "UPC-E" | "Code 128" | "DataMatrix" | "QR"

/** What the first engine looks for: only what stands on supplies, and of that what it reads soundly. */
export const FORMATS: ReadonlyMap<BarcodeFormat, Common> = new Map([
  [BarcodeFormat.EAN_13, "EAN-13"],
  [BarcodeFormat.EAN_8, "EAN-8"],
  [BarcodeFormat.UPC_A, "UPC-A"],
  [BarcodeFormat.UPC_E, "UPC-E"],
  [BarcodeFormat.CODE_128, "Code 128"],
  [BarcodeFormat.DATA_MATRIX, "DataMatrix"],
  [BarcodeFormat.QR_CODE, "QR"],
])

/** Reads the commoner kinds of code that stand on supplies. */
export class SupplyCodeReader implements Reader {
  readonly #most = new MultiFormatReader()
  readonly #upcE = new UpcEReader()

  /** @param look "quick" looks at a few rows, "thorough" at many, and at the picture turned on its side */
  constructor(look: "quick" | "thorough") {
    const hints = new Map<DecodeHintType, unknown>([
      [DecodeHintType.POSSIBLE_FORMATS, [...FORMATS.keys()]],
      // else the separators of a GS1-128 would be lost
      [DecodeHintType.ASSUME_GS1, true],
    ])
    if (look === "thorough") hints.set(DecodeHintType.TRY_HARDER, true)
    this.#most.setHints(hints)
  }

  /**
   * UPC-E comes first: the library, when it finds nothing, leaves a camera's picture turned on its side. Longer
   * codes are not taken for it, since within their bars no six digits have a guard and then bright label.
   *
   * @throws when there is no code in the picture
   */
  decode(picture: BinaryBitmap): Result {
    try {
      return this.#upcE.decode(picture)
    } catch {
      return this.#most.decodeWithState(picture)
    }
  }

  reset(): void {
    this.#most.reset()
  }
}
