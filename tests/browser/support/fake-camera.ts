import { mkdtempSync, writeFileSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import bwip from "bwip-js/node"
import sharp from "sharp"

export const WIDTH = 640
export const HEIGHT = 480
const PER_SECOND = 15

/** A barcode as bwip-js calls it. Its own text and the lines of its drawing come from an independent writer. */
export interface Drawn {
  /** "ean13", "ean8", "upca", "upce", "code128", "datamatrix", "qrcode" */
  bcid: string
  text: string
}

/** How a picture is spoiled: what a camera at arm's length does. */
export interface Spoiled {
  turnDegrees?: number
  blurSigma?: number
  /** 1 leaves it as it is, 0.5 halves the light */
  light?: number
  /** how wide the code is of the frame; 0.7 unless given */
  share?: number
}

/** A picture of a label with a barcode, as PNG: what a person takes with a phone. */
export async function photoOf(
  drawn: Drawn,
  spoiled: Spoiled = {},
  width = WIDTH,
  height = HEIGHT,
): Promise<Buffer> {
  const flat = drawn.bcid === "qrcode" || drawn.bcid === "datamatrix"
  const code = await bwip.toBuffer({
    ...drawn,
    scale: 4,
    ...(flat ? {} : { height: 18, includetext: true, textsize: 8 }),
    padding: 12,
    backgroundcolor: "FFFFFF",
  })
  const share = spoiled.share ?? 0.7
  const label = await sharp(code)
    .resize({
      width: Math.round(width * share),
      height: Math.round(height * Math.min(0.9, share + 0.1)),
      fit: "inside",
      kernel: "lanczos3",
    })
    .rotate(spoiled.turnDegrees ?? 0, { background: "#b8b2a6" })
    .toBuffer()
  const placed = await sharp({ create: { width, height, channels: 3, background: "#b8b2a6" } })
    .composite([{ input: label, gravity: "centre" }])
    .png()
    .toBuffer()
  let picture = sharp(placed)
  if (spoiled.blurSigma !== undefined) picture = picture.blur(spoiled.blurSigma)
  if (spoiled.light !== undefined) picture = picture.linear(spoiled.light, 0)
  return picture.png().toBuffer()
}

/** A frame with nothing on it: the camera looks at the bench. */
export function bench(): Promise<Buffer> {
  return sharp({ create: { width: WIDTH, height: HEIGHT, channels: 3, background: "#b8b2a6" } })
    .png()
    .toBuffer()
}

/**
 * A film for Chromium's fake camera: each picture held so many seconds, over and over (YUV4MPEG2, 4:2:0).
 *
 * @returns the path of the `.y4m` file, in a folder of its own under the temporary one
 */
export async function fakeCamera(frames: readonly Buffer[], secondsEach = 2): Promise<string> {
  const colourless = Buffer.alloc((WIDTH * HEIGHT) / 2, 128)
  const parts: Buffer[] = [
    Buffer.from(`YUV4MPEG2 W${WIDTH} H${HEIGHT} F${PER_SECOND}:1 Ip A1:1 C420jpeg\n`, "ascii"),
  ]
  for (const frame of frames) {
    const luma = await sharp(frame).resize(WIDTH, HEIGHT, { fit: "fill" }).grayscale().raw().toBuffer()
    for (let shown = 0; shown < secondsEach * PER_SECOND; shown++)
      parts.push(Buffer.from("FRAME\n", "ascii"), luma, colourless)
  }
  const path = join(mkdtempSync(join(tmpdir(), "lotcup-camera-")), "film.y4m")
  writeFileSync(path, Buffer.concat(parts))
  return path
}
