import { type BinaryBitmap, MultiFormatReader, type Reader, type Result } from "@zxing/library"
import { HINTS } from "./codes.ts"
import { UpcEReader } from "./upc-e.ts"

/** Reads every kind of code that stands on supplies. */
export class SupplyCodeReader implements Reader {
  readonly #most = new MultiFormatReader()
  readonly #upcE = new UpcEReader()

  constructor() {
    this.#most.setHints(HINTS)
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
