import { deflateSync } from "node:zlib"

const SIZE = { width: 240, height: 180 }

/** A drawing of a coated cup on a turner, as a PNG: the demo's own, made of plain shapes. */
export function pictureOfCup(): Uint8Array {
  const { width, height } = SIZE
  const rows = Buffer.alloc(height * (1 + width * 3))
  for (let y = 0; y < height; y++) {
    for (let x = 0; x < width; x++) rows.set(colourAt(x, y), y * (1 + width * 3) + 1 + x * 3)
  }
  const header = Buffer.alloc(13)
  header.writeUInt32BE(width, 0)
  header.writeUInt32BE(height, 4)
  // 8 bits of red, green and blue
  header.set([8, 2, 0, 0, 0], 8)
  return Buffer.concat([
    Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]),
    chunk("IHDR", header),
    chunk("IDAT", deflateSync(rows)),
    chunk("IEND", Buffer.alloc(0)),
  ])
}

function colourAt(x: number, y: number): [number, number, number] {
  // the cup lies on its side, its lip to the right and bare
  const half = 38 + (x - 50) * 0.09
  const isCup = x >= 50 && x < 200 && Math.abs(y - 90) <= half
  if (isCup && x >= 188) return [186, 190, 194]
  if (isCup) {
    const shine = Math.abs(y - 90 + half * 0.4) < 5 ? 60 : 0
    const copper = (x - 50) / 138
    return [90 + 110 * copper + shine, 60 + 55 * copper + shine, 92 - 30 * copper + shine].map(
      Math.round,
    ) as [number, number, number]
  }
  if (y > 140) return [122, 98, 74]
  return x < 50 && Math.abs(y - 90) < 6 ? [96, 100, 104] : [226, 224, 216]
}

/** The check sum of a PNG's chunks, bit by bit (ISO/IEC 15948, annex D). */
function crc32(bytes: Buffer): number {
  let crc = 0xffffffff
  for (const byte of bytes) {
    crc ^= byte
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1
  }
  return (crc ^ 0xffffffff) >>> 0
}

function chunk(type: string, data: Buffer): Buffer {
  const body = Buffer.concat([Buffer.from(type, "ascii"), data])
  const around = Buffer.alloc(8)
  around.writeUInt32BE(data.length, 0)
  around.writeUInt32BE(crc32(body), 4)
  return Buffer.concat([around.subarray(0, 4), body, around.subarray(4)])
}
