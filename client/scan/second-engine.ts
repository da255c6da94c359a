// zxing-wasm (MIT) is ZXing-C++ (Apache License 2.0) made for the browser.
import { prepareZXingModule, type ReadResult, readBarcodes } from "zxing-wasm/reader"
import type { Symbology } from "../../server/domain/gs1.ts"
import type { Reading } from "./codes.ts"
import type { Grey } from "./picture.ts"

const LINEAR = [
  "EAN13",
  "EAN8",
  "UPCA",
  "UPCE",
  "ITF",
  "Code128",
  "Code39Std",
  "DataBarOmni",
  "DataBarStk",
  "DataBarLtd",
  "DataBarExp",
  "DataBarExpStk",
] as const
const FLAT = ["QRCode", "DataMatrix"] as const

export type Threshold = "LocalAverage" | "GlobalHistogram" | "FixedThreshold"

/** How one look is done. */
export interface Look {
  /** bars that run up and down are all there is in the picture */
  straight?: boolean
  /** how many lines of the picture say no more than one: two where it was enlarged twice */
  linesAsOne?: number
  /** light bars on dark, too */
  inverted?: boolean
  /** where between light and dark: as the neighbourhood has it, as the whole picture has it, or halfway */
  threshold?: Threshold
}

/**
 * Gets the second engine ready.
 *
 * @param wasm its machine code, or the address of it; it is never got from anywhere else
 */
export async function prepareSecond(wasm: string | ArrayBuffer): Promise<void> {
  const overrides = typeof wasm === "string" ? { locateFile: () => wasm } : { wasmBinary: wasm }
  await prepareZXingModule({ overrides, fireImmediately: true })
}

/** What the second engine sees in a picture. */
export async function readSecond(picture: Grey, look: Look = {}): Promise<Reading[]> {
  const results = await readBarcodes(coloured(picture), {
    formats: look.straight ? [...LINEAR] : [...LINEAR, ...FLAT],
    tryRotate: !look.straight,
    tryDownscale: !look.straight,
    tryInvert: look.inverted ?? false,
    binarizer: look.threshold ?? "LocalAverage",
    // the separators as they are, no brackets
    textMode: "Plain",
    maxNumberOfSymbols: 8,
  })
  return results.filter(({ isValid }) => isValid).flatMap((result) => readingOf(result, look))
}

/** The engine takes pictures with colour only. */
function coloured({ width, height, light }: Grey): ImageData {
  const data = new Uint8ClampedArray(light.length * 4)
  const words = new Uint32Array(data.buffer)
  for (let at = 0; at < light.length; at++) words[at] = 0xff000000 | (light[at]! * 0x010101)
  return { width, height, data, colorSpace: "srgb" } as ImageData
}

function readingOf(result: ReadResult, { straight = false, linesAsOne = 1 }: Look): Reading[] {
  const isGs1 = result.contentType === "GS1"
  const as = (symbology: Symbology, code = result.text) => [
    { code, symbology, lines: Math.max(1, result.lineCount) / linesAsOne, straight },
  ]
  switch (result.format) {
    case "EAN13":
    case "UPCA": {
      const digits = result.text.padStart(13, "0")
      return digits.startsWith("0") ? as("UPC-A", digits.slice(1)) : as("EAN-13", digits)
    }
    case "EAN8":
      return as("EAN-8")
    case "UPCE": {
      const eight = /"UPCE":"([0-9]{8})"/.exec(result.extra)?.[1]
      return eight === undefined ? [] : as("UPC-E", eight)
    }
    case "ITF":
    case "ITF14":
      return as("ITF-14")
    case "Code39":
    case "Code39Std":
      return as("Code 39")
    case "Code128":
      return as(isGs1 ? "GS1-128" : "Code 128")
    case "DataBarOmni":
    case "DataBarStk":
    case "DataBarStkOmni":
    case "DataBarLtd":
      return as("DataBar")
    case "DataBarExp":
    case "DataBarExpStk":
      return as("DataBar Expanded")
    case "QRCode":
    case "QRCodeModel2":
      return as(isGs1 ? "GS1 QR" : "QR")
    case "DataMatrix":
      return as(isGs1 ? "GS1 DataMatrix" : "DataMatrix")
    default:
      return []
  }
}
