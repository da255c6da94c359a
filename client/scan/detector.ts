import type { Symbology } from "../../server/domain/gs1.ts"
import type { Reading } from "./codes.ts"
import type { Variant, View } from "./variants.ts"

/** The browser's own reader, where it has one (W3C Shape Detection; in its types of no browser yet). */
interface Detector {
  detect(picture: ImageBitmapSource): Promise<readonly { rawValue: string; format: string }[]>
}
interface DetectorMaker {
  new (options: { formats: readonly string[] }): Detector
  getSupportedFormats(): Promise<readonly string[]>
}

/**
 * Its names of what is read here. Not those whose text does not say all: it hands over the characters of a Code
 * 128, DataMatrix or QR alone, which may or may not be a GS1 code, so digits in front are left to the other engines.
 */
const NAMES: ReadonlyMap<string, Symbology> = new Map([
  ["ean_13", "EAN-13"],
  ["ean_8", "EAN-8"],
  ["upc_a", "UPC-A"],
  ["upc_e", "UPC-E"],
  ["itf", "ITF-14"],
  ["code_39", "Code 39"],
  ["code_128", "Code 128"],
  ["data_matrix", "DataMatrix"],
  ["qr_code", "QR"],
])
/** It tells no lines, and was made to be believed. */
const LINES = 3
const GS = "\u001d"
const MAY_BE_GS1: readonly Symbology[] = ["Code 128", "DataMatrix", "QR"]

/** A look with the browser's own reader; none where it has none, or one that knows none of our symbologies. */
export async function browsersOwn(): Promise<Variant[]> {
  const Maker = (globalThis as { BarcodeDetector?: DetectorMaker }).BarcodeDetector
  if (Maker === undefined) return []
  try {
    const formats = (await Maker.getSupportedFormats()).filter((format) => NAMES.has(format))
    if (formats.length === 0) return []
    const detector = new Maker({ formats })
    const look = async ({ source }: View) => {
      if (source === undefined) return []
      // it may be gone from one moment to the next
      const found = await detector.detect(source).catch(() => [])
      return found.flatMap(readingOf)
    }
    return [{ name: "browser's own", look }]
  } catch {
    return []
  }
}

function readingOf({ rawValue, format }: { rawValue: string; format: string }): Reading[] {
  const symbology = NAMES.get(format)
  if (symbology === undefined) return []
  if (symbology === "EAN-13" && /^0[0-9]{12}$/.test(rawValue))
    return [{ code: rawValue.slice(1), symbology: "UPC-A", lines: LINES, straight: false }]
  if (symbology === "UPC-A" && /^0[0-9]{12}$/.test(rawValue))
    return [{ code: rawValue.slice(1), symbology, lines: LINES, straight: false }]
  if (MAY_BE_GS1.includes(symbology) && (rawValue.startsWith(GS) || /^[0-9]{2}/.test(rawValue))) return []
  return [{ code: rawValue, symbology, lines: LINES, straight: false }]
}
