import { BrowserCodeReader } from "@zxing/browser"
import { HINTS, type Scan, scanOf } from "./codes.ts"
import { SupplyCodeReader } from "./reader.ts"

/** Longest sides tried, in pixels: fine bars need many, a large blurred code is read better small. */
const SIDES = [1600, 1000, 2400, 600]

/**
 * Reads a code from a picked picture, which never leaves this device.
 *
 * @returns null when no code is found in it
 * @throws when the file is no picture
 */
export async function readPhoto(file: Blob): Promise<Scan | null> {
  const picture = await createImageBitmap(file)
  const reader = new BrowserCodeReader(new SupplyCodeReader(), HINTS)
  try {
    for (const side of SIDES) {
      const scan = tryAt(reader, picture, side)
      if (scan !== null) return scan
    }
    return null
  } finally {
    picture.close()
  }
}

function tryAt(reader: BrowserCodeReader, picture: ImageBitmap, side: number): Scan | null {
  const scale = Math.min(1, side / Math.max(picture.width, picture.height))
  const canvas = document.createElement("canvas")
  canvas.width = Math.max(1, Math.round(picture.width * scale))
  canvas.height = Math.max(1, Math.round(picture.height * scale))
  canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height)
  try {
    return scanOf(reader.decodeFromCanvas(canvas))
  } catch {
    // how the library says that nothing was found
    return null
  }
}
