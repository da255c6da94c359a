import { BinaryBitmap, HybridBinarizer, type Result, RGBLuminanceSource } from "@zxing/library"
import type { Symbology } from "../../server/domain/gs1.ts"
import type { Reading } from "./codes.ts"
import type { Grey } from "./picture.ts"
import { FORMATS, SupplyCodeReader } from "./reader.ts"

/**
 * The first engine, the library behind @zxing/browser, looking at a picture as thoroughly as it can. Reads the
 * commoner symbologies only.
 */
export function readFirst({ width, height, light }: Grey): Reading[] {
  try {
    const source = new RGBLuminanceSource(light, width, height)
    const reading = readingOf(
      new SupplyCodeReader("thorough").decode(new BinaryBitmap(new HybridBinarizer(source))),
    )
    return reading === null ? [] : [reading]
  } catch {
    // how the library says that nothing was found
    return []
  }
}

/** It tells no lines. A check digit alone lets one wrong reading in ten through, so one look is not enough. */
const LINES = 2
const GS = "\u001d"
/** What the library puts in front of a GS1-128, told to. */
const GS1_128 = "]C1"

/** A result of the library in our words; null for what it cannot tell. */
export function readingOf(result: Result): Reading | null {
  const text = result.getText()
  const as = (symbology: Symbology, code = text) => ({ code, symbology, lines: LINES, straight: false })
  switch (FORMATS.get(result.getBarcodeFormat())) {
    case "EAN-13":
      // the number of a UPC-A, with the zero that makes it thirteen digits
      return text.startsWith("0") ? as("UPC-A", text.slice(1)) : as("EAN-13")
    case "EAN-8":
      return as("EAN-8")
    case "UPC-A":
      return as("UPC-A")
    case "UPC-E":
      return as("UPC-E")
    case "Code 128":
      return text.startsWith(GS1_128) ? as("GS1-128", text.slice(GS1_128.length)) : as("Code 128")
    case "DataMatrix":
      return text.startsWith(GS) ? as("GS1 DataMatrix", text.slice(1)) : as("DataMatrix")
    case "QR":
      // digits in front may be a GS1 code's, which the library does not tell from a plain one
      return /^[0-9]{2}/.test(text) ? null : as("QR")
    case undefined:
      return null
  }
}
