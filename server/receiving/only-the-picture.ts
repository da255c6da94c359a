import { Refusal } from "../domain/refusal.ts"

export type PictureType = "image/jpeg" | "image/png" | "image/webp"

/** What a photo may weigh; the page makes them far smaller. */
export const LARGEST_PHOTO = 2_000_000

/**
 * Takes everything out of a picture file that is not the picture: where it was taken, when, with what, by whom,
 * thumbnails, and whatever hangs on behind. What it is is told by its bytes alone.
 *
 * @throws {Refusal} no JPEG, PNG or WebP; cut off or put together otherwise than the format says; too large
 */
export function onlyThePicture(sent: Uint8Array): { type: PictureType; bytes: Uint8Array } {
  // a Buffer's slice is no copy
  const file = new Uint8Array(sent.buffer, sent.byteOffset, sent.byteLength)
  if (file.length > LARGEST_PHOTO)
    throw new Refusal("That photo is too large: at most 2 MB. Take it from a little further away.", {
      status: 413,
    })
  const type = typeOf(file)
  if (type === null) throw refused("That is no photo that can be kept: JPEG, PNG or WebP.")
  switch (type) {
    case "image/jpeg":
      return { type, bytes: jpeg(file) }
    case "image/png":
      return { type, bytes: png(file) }
    case "image/webp":
      return { type, bytes: webp(file) }
  }
}

function typeOf(file: Uint8Array): PictureType | null {
  if (starts(file, [0xff, 0xd8, 0xff])) return "image/jpeg"
  if (starts(file, PNG_SIGNATURE)) return "image/png"
  if (text(file, 0, 4) === "RIFF" && text(file, 8, 12) === "WEBP") return "image/webp"
  return null
}

/** Tables, frame and scan headers (ITU-T T.81, table B.1); JFIF and Adobe's segment say how colours are meant. */
const JPEG_KEPT: ReadonlySet<number> = new Set([
  0xdb, 0xc4, 0xdd, 0xe0, 0xee, 0xc0, 0xc1, 0xc2, 0xc3, 0xc5, 0xc6, 0xc7, 0xc9, 0xca, 0xcb, 0xcd, 0xce, 0xcf,
  0xcc,
])
const SOI = 0xd8
const EOI = 0xd9
const SOS = 0xda

function jpeg(file: Uint8Array): Uint8Array {
  const kept: Uint8Array[] = [Uint8Array.of(0xff, SOI)]
  let scans = 0
  for (let at = 2; ; ) {
    while (file[at] === 0xff && file[at + 1] === 0xff) at++
    const marker = file[at + 1]
    if (file[at] !== 0xff || marker === undefined) throw damaged()
    if (marker === EOI) {
      if (scans === 0) throw damaged()
      kept.push(Uint8Array.of(0xff, EOI))
      return joined(kept)
    }
    const length = ((file[at + 2] ?? 0) << 8) | (file[at + 3] ?? 0)
    const end = at + 2 + length
    if (length < 2 || end > file.length) throw damaged()
    if (marker === SOS) {
      const scanEnd = endOfScan(file, end)
      kept.push(file.subarray(at, scanEnd))
      scans++
      at = scanEnd
      continue
    }
    if (JPEG_KEPT.has(marker))
      kept.push(marker === 0xe0 ? jfifAlone(file.subarray(at, end)) : file.subarray(at, end))
    else if (!isTold(marker)) throw damaged()
    at = end
  }
}

/** Application segments and comments: read over. Anything else that is no part of a picture is refused. */
function isTold(marker: number): boolean {
  return (marker >= 0xe1 && marker <= 0xef) || marker === 0xfe
}

/** Without its thumbnail; an extension of it holds nothing else. */
function jfifAlone(segment: Uint8Array): Uint8Array {
  if (text(segment, 4, 8) !== "JFIF" || segment.length < 18) return new Uint8Array()
  const head = segment.slice(0, 18)
  head[2] = 0
  head[3] = 16
  head[16] = 0
  head[17] = 0
  return head
}

/** Coded data goes on to a marker that is neither a stuffed byte nor a restart. */
function endOfScan(file: Uint8Array, from: number): number {
  for (let at = from; at + 1 < file.length; at++) {
    const next = file[at + 1] as number
    if (file[at] === 0xff && next !== 0 && next !== 0xff && !(next >= 0xd0 && next <= 0xd7)) return at
  }
  throw damaged()
}

const PNG_SIGNATURE = [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]
/** Picture data, and how its colours and edges are meant. */
const PNG_KEPT = ["IHDR", "PLTE", "IDAT", "IEND", "tRNS", "gAMA", "cHRM", "sRGB"]

function png(file: Uint8Array): Uint8Array {
  const kept: Uint8Array[] = [Uint8Array.from(PNG_SIGNATURE)]
  const view = viewOf(file)
  const seen: string[] = []
  for (let at = 8; ; ) {
    if (at + 12 > file.length) throw damaged()
    const end = at + 12 + view.getUint32(at)
    const name = text(file, at + 4, at + 8)
    if (end > file.length || !/^[A-Za-z]{4}$/.test(name) || (at === 8) !== (name === "IHDR")) throw damaged()
    if (PNG_KEPT.includes(name)) kept.push(file.subarray(at, end))
    // a capital first letter: no picture without it
    else if (/^[A-Z]/.test(name)) throw damaged()
    seen.push(name)
    if (name === "IEND") {
      if (!seen.includes("IDAT")) throw damaged()
      return joined(kept)
    }
    at = end
  }
}

const WEBP_KEPT = ["VP8 ", "VP8L", "VP8X", "ALPH"]
/** Flags of VP8X for a colour profile, EXIF, XMP and animation (WebP Container Specification). */
const WEBP_TOLD = 0b0010_1110

function webp(file: Uint8Array): Uint8Array {
  const view = viewOf(file)
  const kept: Uint8Array[] = []
  const end = 8 + view.getUint32(4, true)
  if (end > file.length) throw damaged()
  for (let at = 12; at < end; ) {
    if (at + 8 > end) throw damaged()
    const name = text(file, at, at + 4)
    const size = view.getUint32(at + 4, true)
    const next = at + 8 + size + (size % 2)
    if (next > end) throw damaged()
    if (WEBP_KEPT.includes(name)) {
      const chunk = file.slice(at, next)
      if (name === "VP8X") chunk[8] = (chunk[8] ?? 0) & ~WEBP_TOLD
      kept.push(chunk)
    } else if (name === "ANIM" || name === "ANMF")
      throw refused("A moving picture cannot be kept. Take a photo.")
    at = next
  }
  if (!kept.some((chunk) => /^VP8[ L]$/.test(text(chunk, 0, 4)))) throw damaged()
  const head = file.slice(0, 12)
  viewOf(head).setUint32(4, 4 + kept.reduce((sum, chunk) => sum + chunk.length, 0), true)
  return joined([head, ...kept])
}

function damaged(): Refusal {
  return refused("That photo is damaged and cannot be kept. Take it again.")
}

function refused(sentence: string): Refusal {
  return new Refusal(sentence, { field: "photo" })
}

function starts(file: Uint8Array, bytes: readonly number[]): boolean {
  return bytes.every((byte, index) => file[index] === byte)
}

function text(file: Uint8Array, from: number, to: number): string {
  return String.fromCharCode(...file.subarray(from, to))
}

function viewOf(file: Uint8Array): DataView {
  return new DataView(file.buffer, file.byteOffset, file.byteLength)
}

function joined(parts: readonly Uint8Array[]): Uint8Array {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0))
  let at = 0
  for (const part of parts) {
    whole.set(part, at)
    at += part.length
  }
  return whole
}
