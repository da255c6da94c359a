import { BinaryBitmap, HybridBinarizer, RGBLuminanceSource } from "@zxing/library"
import bwip from "bwip-js/node"
import sharp from "sharp"
import { expect, test } from "vitest"
import { SupplyCodeReader } from "../../client/scan/reader.ts"
import { gtinCheckDigit } from "../../server/domain/gs1.ts"

/** What our reader makes of a code that bwip-js, an independent writer, has drawn. */
async function readDrawn(bcid: string, text: string): Promise<string> {
  const drawn = await bwip.toBuffer({
    bcid,
    text,
    scale: 3,
    height: 14,
    padding: 12,
    backgroundcolor: "FFFFFF",
  })
  const { data, info } = await sharp(drawn).grayscale().raw().toBuffer({ resolveWithObject: true })
  const source = new RGBLuminanceSource(new Uint8ClampedArray(data), info.width, info.height)
  return new SupplyCodeReader("thorough").decode(new BinaryBitmap(new HybridBinarizer(source))).getText()
}

/** The six digits of number system `system` with their check digit, worked out by bwip-js itself. */
const SIXES = [
  "123456",
  "425261",
  "425262",
  "987653",
  "987654",
  "100010",
  "200019",
  "333337",
  "654325",
  "111118",
]

test.each(["0", "1"])("UPC-E of number system %s reads as the digits that were drawn", async (system) => {
  const checks = new Set<string>()
  for (const six of SIXES) {
    // bwip-js adds the check digit to seven digits; another code of it would be refused by our reader
    const read = await readDrawn("upce", `${system}${six}`)
    expect(read.slice(0, 7)).toBe(`${system}${six}`)
    checks.add(read[7]!)
  }
  expect(checks.size).toBeGreaterThanOrEqual(5)
})

test("123456 in number system 0 reads as 01234565 (a scanner maker's manual)", async () => {
  expect(await readDrawn("upce", "01234565")).toBe("01234565")
})

test("EAN-13, EAN-8 and UPC-A are not taken for UPC-E", async () => {
  const withCheck = (body: string) => body + gtinCheckDigit(body)
  expect(await readDrawn("ean13", withCheck("952123450001"))).toBe(withCheck("952123450001"))
  expect(await readDrawn("ean8", withCheck("2345678"))).toBe(withCheck("2345678"))
  expect(await readDrawn("upca", withCheck("41234567000"))).toBe(withCheck("41234567000"))
})
