import { BrowserCodeReader } from "@zxing/browser"
import { isFlat, isRight, type Scan } from "./codes.ts"
import { readingOf } from "./first-engine.ts"
import { SupplyCodeReader } from "./reader.ts"
import { readerThread } from "./thread.ts"

/** The longest side a photo is read at, in pixels: enough for fine bars, and not more than a phone holds at ease. */
const LONGEST = 2400
/** Longest sides tried where only the first engine reads: a large blurred code is read better small. */
const SIDES = [1600, 1000, 2400, 600]

/**
 * Reads a code from a picked picture, which never leaves this device.
 *
 * @returns null when no code is found in it
 * @throws when the file is no picture
 */
export async function readPhoto(file: Blob): Promise<Scan | null> {
  const picture = await createImageBitmap(file)
  try {
    const thread = readerThread()
    if (thread === null) return readAlone(picture)
    try {
      const { scans } = await thread.readPhoto(await atMost(picture, LONGEST))
      return scans[0] ?? null
    } catch {
      return readAlone(picture)
    }
  } finally {
    picture.close()
  }
}

function atMost(picture: ImageBitmap, longest: number): Promise<ImageBitmap> {
  const scale = longest / Math.max(picture.width, picture.height)
  if (scale >= 1) return createImageBitmap(picture)
  return createImageBitmap(picture, {
    resizeWidth: Math.max(1, Math.round(picture.width * scale)),
    resizeHeight: Math.max(1, Math.round(picture.height * scale)),
    resizeQuality: "high",
  })
}

/** Without the second engine: bars count when they are read alike at two sizes. */
function readAlone(picture: ImageBitmap): Scan | null {
  const reader = new BrowserCodeReader(new SupplyCodeReader("thorough"))
  const seen = new Set<string>()
  for (const side of SIDES) {
    const scan = tryAt(reader, picture, side)
    if (scan === null || !isRight(scan)) continue
    if (isFlat(scan) || seen.has(scan.code)) return scan
    seen.add(scan.code)
  }
  return null
}

function tryAt(reader: BrowserCodeReader, picture: ImageBitmap, side: number): Scan | null {
  const scale = Math.min(1, side / Math.max(picture.width, picture.height))
  const canvas = document.createElement("canvas")
  canvas.width = Math.max(1, Math.round(picture.width * scale))
  canvas.height = Math.max(1, Math.round(picture.height * scale))
  canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height)
  try {
    const seen = readingOf(reader.decodeFromCanvas(canvas))
    return seen && { code: seen.code, symbology: seen.symbology }
  } catch {
    // how the library says that nothing was found
    return null
  }
}
