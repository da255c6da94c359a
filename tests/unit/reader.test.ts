import { readFileSync } from "node:fs"
import { createRequire } from "node:module"
import { setFlagsFromString } from "node:v8"
import { runInNewContext } from "node:vm"
import sharp from "sharp"
import { beforeAll, describe, expect, test } from "vitest"
import type { Reading } from "../../client/scan/codes.ts"
import { CombinedReader } from "../../client/scan/combined.ts"
import { browsersOwn } from "../../client/scan/detector.ts"
import { Evidence } from "../../client/scan/evidence.ts"
import { doubled, evened, type Grey, halved, sharpened, turned45 } from "../../client/scan/picture.ts"
import { prepareSecond, readSecond } from "../../client/scan/second-engine.ts"
import { findStrips, straightened } from "../../client/scan/strips.ts"
import { View } from "../../client/scan/variants.ts"
import { KINDS } from "../bench/reading/codes.ts"
import { draw, type Scene, takePicture } from "../bench/reading/scene.ts"
import { chance } from "../support/chance.ts"

beforeAll(async () => {
  const path = createRequire(import.meta.url).resolve("zxing-wasm/reader/zxing_reader.wasm")
  const file = readFileSync(path)
  await prepareSecond(file.buffer.slice(file.byteOffset, file.byteOffset + file.length) as ArrayBuffer)
})

async function pictureOf(kind: string, scene: Scene, seed = 1): Promise<{ picture: Grey; reads: Reading }> {
  const random = chance(seed)
  const sample = KINDS.find(({ name }) => name === kind)!.sample(random)
  const taken = await takePicture(await draw(sample), () => scene, random)
  const { data, info } = await sharp(taken).grayscale().raw().toBuffer({ resolveWithObject: true })
  const picture = { width: info.width, height: info.height, light: new Uint8ClampedArray(data) }
  return { picture, reads: { ...sample.reads, lines: 1, straight: false } }
}

describe("what several looks say together", () => {
  const ean: Reading = { code: "9521234500018", symbology: "EAN-13", lines: 3, straight: false }
  const short: Reading = { code: "01234565", symbology: "UPC-E", lines: 20, straight: false }
  const evidenceOf = (...looks: Reading[][]) => {
    const evidence = new Evidence()
    for (const look of looks) evidence.add(look)
    return evidence
  }
  const { code, symbology } = ean

  test("three lines with a right check digit are enough, two are not, and two looks add up", () => {
    expect(evidenceOf([ean]).sightings).toEqual([{ code, symbology, sure: true }])
    const two = { ...ean, lines: 2 }
    expect(evidenceOf([two]).enough).toEqual([])
    expect(evidenceOf([two]).sightings).toEqual([{ code, symbology, sure: false }])
    expect(evidenceOf([two], [two]).enough).toEqual([{ code, symbology }])
    // the same look seeing it twice in one picture is one look
    expect(evidenceOf([two, two]).enough).toEqual([])
  })

  test("a wrong check digit counts for nothing, however many lines say so", () => {
    expect(evidenceOf([{ ...ean, code: "9521234500019", lines: 500 }]).sightings).toEqual([])
  })

  test("a weak code needs two looks, one of them along its bars, and another frame", () => {
    expect(evidenceOf([short], [short]).sightings).toEqual([])
    expect(evidenceOf([{ ...short, straight: true }]).enough).toEqual([])
    const both = evidenceOf([short], [{ ...short, straight: true }])
    expect(both.sightings).toEqual([{ code: short.code, symbology: "UPC-E", sure: false }])
  })

  test("a weak code beside a strong one may be a part of it and is left out", () => {
    const along = { ...short, straight: true }
    expect(evidenceOf([short], [along], [ean]).enough).toEqual([{ code, symbology }])
  })

  test("bars that should hold GS1 elements and do not are weak", () => {
    const wrong: Reading = {
      code: "1\u001d951\u001d947",
      symbology: "DataBar Expanded",
      lines: 9,
      straight: false,
    }
    expect(evidenceOf([wrong]).enough).toEqual([])
    const right = { ...wrong, code: "010952123450001810AB-12" }
    expect(evidenceOf([right]).enough).toHaveLength(1)
  })

  test("a code of two dimensions is enough by itself, and one that tells the lot comes first", () => {
    const flat: Reading = {
      code: "010952123450001810AB-12",
      symbology: "GS1 DataMatrix",
      lines: 1,
      straight: false,
    }
    expect(evidenceOf([ean, flat]).enough.map((one) => one.symbology)).toEqual(["GS1 DataMatrix", "EAN-13"])
  })
})

describe("pictures made ready", () => {
  const ramp: Grey = {
    width: 64,
    height: 64,
    light: Uint8ClampedArray.from({ length: 64 * 64 }, (_, at) => (at % 64) * 2),
  }

  test("doubled and halved is the same again, but for the very edge", () => {
    const again = halved(doubled(ramp))
    expect(again).toMatchObject({ width: 64, height: 64 })
    for (let x = 1; x < 63; x++)
      expect(Math.abs(again.light[640 + x]! - ramp.light[640 + x]!)).toBeLessThanOrEqual(1)
  })

  test("a slow change of light is taken out, a quick one stays", () => {
    const dim = { ...ramp, light: ramp.light.map((light, at) => (at % 4 < 2 ? light : light / 2)) }
    const even = evened(dim, 8)
    // the same stripe, dark on the left and bright on the right
    const stripe = (x: number) => even.light[32 * 64 + x]! - even.light[32 * 64 + x + 2]!
    expect(stripe(12)).toBeGreaterThan(100)
    expect(Math.abs(stripe(12) - stripe(48))).toBeLessThan(30)
  })

  test("sharpened, an edge is steeper; turned by an eighth, upright bars lie aslant", () => {
    const edge = {
      ...ramp,
      light: ramp.light.map((_, at) => 80 + Math.max(0, Math.min(40, (at % 64) * 4 - 108))),
    }
    const row = (picture: Grey, x: number) => picture.light[32 * 64 + x]!
    expect(row(sharpened(edge, 4, 2), 38) - row(sharpened(edge, 4, 2), 26)).toBeGreaterThan(
      row(edge, 38) - row(edge, 26),
    )
    const turned = turned45(ramp)
    const at = (x: number, y: number) => turned.light[(45 + y) * turned.width + 45 + x]!
    expect(at(15, 15)).toBeGreaterThan(at(-15, -15) + 50)
    expect(Math.abs(at(15, -15) - at(-15, 15))).toBeLessThan(4)
  })
})

describe("bars are found and straightened", () => {
  test.each([0, 33, 45, 72, 90, 135])("turned by %i degrees", async (turnDegrees) => {
    const { picture, reads } = await pictureOf("EAN-13", { modulePx: 2, turnDegrees })
    const [strip] = findStrips(picture, 1)
    const degrees = (strip!.angle * 180) / Math.PI
    // across the bars is the same both ways
    const off = Math.abs(((((degrees - turnDegrees) % 180) + 270) % 180) - 90)
    expect(off).toBeLessThan(1.5)
    const straight = straightened(picture, strip!, 4)
    const readings = await readSecond(straight, { straight: true })
    expect(readings.map(({ code }) => code)).toEqual([reads.code])
  })

  test("on an empty table there are none", () => {
    const light = new Uint8ClampedArray(320 * 240).fill(130)
    expect(findStrips({ width: 320, height: 240, light }, 3)).toEqual([])
  })
})

describe("the combined reader", () => {
  test.each(KINDS.map(({ name }) => name))(
    "reads a plain %s from a photo, told by its right name",
    async (name) => {
      const { picture, reads } = await pictureOf(name, {
        modulePx: /QR|Matrix/.test(name) ? 5 : 2,
        turnDegrees: 5,
      })
      const { code, symbology } = reads
      expect(await new CombinedReader().photo(picture)).toEqual([{ code, symbology, sure: true }])
    },
  )

  test("takes no more looks at a frame than its time allows, and another one at the next", async () => {
    const { picture } = await pictureOf("EAN-13", { modulePx: 2 })
    const empty = { ...picture, light: picture.light.slice().fill(120) }
    const taken: string[] = []
    let nowMs = 0
    const look = (name: string) => ({
      name,
      look: () => {
        taken.push(name)
        nowMs += 50
        return []
      },
    })
    const reader = new CombinedReader(["a", "b", "c", "d", "e", "f", "g"].map(look), () => nowMs)
    expect(await reader.frame(empty)).toEqual([])
    expect(taken).toEqual(["a", "b", "c"])
    await reader.frame(empty)
    expect(taken).toEqual(["a", "b", "c", "d", "e", "f"])
  })

  test("keeps no more after a hundred and fifty frames than after fifty", async () => {
    setFlagsFromString("--expose-gc")
    const collect = runInNewContext("gc") as () => void
    const held = () => {
      collect()
      const { external, heapUsed } = process.memoryUsage()
      return (external + heapUsed) / 1e6
    }
    const { picture, reads } = await pictureOf("EAN-13", { modulePx: 2.4, turnDegrees: 3 })
    const small = halved(picture)
    const reader = new CombinedReader()
    let right = 0
    let before = 0
    for (let frame = 0; frame < 150; frame++) {
      if (frame === 50) before = held()
      const seen = await reader.frame(frame % 3 === 0 ? picture : small)
      if (seen.some(({ code }) => code === reads.code)) right++
    }
    expect(right).toBeGreaterThanOrEqual(50)
    expect(held() - before).toBeLessThan(5)
  }, 120_000)
})

describe("the browser's own reader", () => {
  const detectorOf = (
    found: { rawValue: string; format: string }[],
    formats = ["ean_13", "qr_code", "pdf417"],
  ) =>
    class {
      static asked: readonly string[] = []
      static getSupportedFormats = async () => formats
      constructor(options: { formats: readonly string[] }) {
        ;(this.constructor as unknown as { asked: readonly string[] }).asked = options.formats
      }
      detect = async () => found
    }
  const withDetector = async <T>(maker: unknown, work: () => Promise<T>): Promise<T> => {
    Object.assign(globalThis, { BarcodeDetector: maker })
    try {
      return await work()
    } finally {
      Reflect.deleteProperty(globalThis, "BarcodeDetector")
    }
  }
  const view = new View({ width: 1, height: 1, light: new Uint8ClampedArray(1) }, {} as ImageBitmap)

  test("is used for what it can and we want, and its names are ours", async () => {
    const maker = detectorOf([
      { rawValue: "9521234500018", format: "ean_13" },
      { rawValue: "0412345678903", format: "ean_13" },
      { rawValue: "https://kit.example/1", format: "qr_code" },
    ])
    const readings = await withDetector(maker, async () => (await browsersOwn())[0]!.look(view))
    expect(maker.asked).toEqual(["ean_13", "qr_code"])
    expect(readings.map(({ code, symbology }) => [code, symbology])).toEqual([
      ["9521234500018", "EAN-13"],
      ["412345678903", "UPC-A"],
      ["https://kit.example/1", "QR"],
    ])
  })

  test("is not asked what it cannot tell: whether bars are a GS1 code", async () => {
    const maker = detectorOf([
      { rawValue: "010952123450001810AB-12", format: "code_128" },
      { rawValue: "\u001d010952123450001810AB-12", format: "data_matrix" },
    ])
    expect(await withDetector(maker, async () => (await browsersOwn())[0]!.look(view))).toEqual([])
  })

  test("is left alone where there is none, or none for our bars", async () => {
    expect(await browsersOwn()).toEqual([])
    expect(await withDetector(detectorOf([], ["pdf417"]), browsersOwn)).toEqual([])
  })
})
