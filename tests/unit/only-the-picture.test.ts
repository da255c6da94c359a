import sharp from "sharp"
import { describe, expect, test } from "vitest"
import { onlyThePicture } from "../../server/receiving/only-the-picture.ts"

/** A little picture as a phone keeps it: where it was taken, with what, and a description. */
function photo(format: "jpeg" | "png" | "webp", options: object = {}): Promise<Buffer> {
  return sharp({
    create: { width: 64, height: 48, channels: 3, background: "#3a7" },
  })
    .composite([
      {
        input: Buffer.from('<svg width="40" height="40"><circle cx="20" cy="20" r="15" fill="#fc0"/></svg>'),
      },
    ])
    .withExif({
      IFD0: { Make: "SECRETMAKER", ImageDescription: "SECRETWORDS" },
      IFD3: {
        GPSLatitudeRef: "N",
        GPSLatitude: "51/1 30/1 0/1",
        GPSLongitudeRef: "W",
        GPSLongitude: "0/1 7/1 0/1",
      },
    })
    .withXmp(
      '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="SECRETXMP"/></rdf:RDF></x:xmpmeta>',
    )
    .withIccProfile("srgb")
    .toFormat(format, options)
    .toBuffer()
}

const pixels = (file: Uint8Array) => sharp(file).removeAlpha().raw().toBuffer()

describe.each([
  ["jpeg", "image/jpeg", {}],
  ["jpeg in several scans", "image/jpeg", { progressive: true }],
  ["png", "image/png", {}],
  ["png with a palette", "image/png", { palette: true }],
  ["webp", "image/webp", {}],
  ["webp without loss", "image/webp", { lossless: true }],
] as const)("%s", (name, type, options) => {
  const format = name.split(" ")[0] as "jpeg" | "png" | "webp"

  test("nothing but the picture is left, and the picture is the same", async () => {
    const sent = await photo(format, options)
    // what is to be taken out is really in it
    expect((await sharp(sent).metadata()).exif).toBeDefined()
    const kept = onlyThePicture(sent)
    expect(kept.type).toBe(type)
    const metadata = await sharp(kept.bytes).metadata()
    expect([metadata.exif, metadata.xmp, metadata.icc, metadata.comments]).toEqual([
      undefined,
      undefined,
      undefined,
      undefined,
    ])
    expect(Buffer.from(kept.bytes).toString("latin1")).not.toMatch(/SECRET|Exif|GPS|xmpmeta/)
    expect(Buffer.compare(await pixels(kept.bytes), await pixels(sent))).toBe(0)
  })

  test("what hangs on behind the picture is cut off", async () => {
    const sent = await photo(format, options)
    const kept = onlyThePicture(Buffer.concat([sent, Buffer.from("SECRETBEHIND<script>alert(1)</script>")]))
    expect(Buffer.from(kept.bytes).toString("latin1")).not.toContain("SECRETBEHIND")
    expect(Buffer.compare(await pixels(kept.bytes), await pixels(sent))).toBe(0)
  })

  test("cut off anywhere it is refused, never kept in part", async () => {
    const sent = await photo(format, options)
    for (let length = 12; length < sent.length; length += Math.ceil(sent.length / 60)) {
      expect(() => onlyThePicture(sent.subarray(0, length)), `${length} of ${sent.length}`).toThrow(
        /no photo that can be kept|damaged/,
      )
    }
  })
})

test("a comment in a JPEG is left out", async () => {
  const sent = await photo("jpeg")
  const comment = Buffer.from([0xff, 0xfe, 0x00, 0x0e, ...Buffer.from("SECRETCOMM12")])
  const withComment = Buffer.concat([sent.subarray(0, 2), comment, sent.subarray(2)])
  expect(Buffer.from(onlyThePicture(withComment).bytes).toString("latin1")).not.toContain("SECRETCOMM")
})

test.each([
  ["a page", "<!doctype html><script>alert(1)</script>"],
  [
    "a drawing, which can hold script",
    '<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
  ],
  ["a moving picture", "GIF89a\u0001\u0000\u0001\u0000"],
  ["nothing", ""],
])("%s is no photo, whatever it is called", (_what, content) => {
  expect(() => onlyThePicture(Buffer.from(content, "latin1"))).toThrow(/no photo that can be kept/)
})

test("more than 2 MB is refused", () => {
  expect(() => onlyThePicture(new Uint8Array(2_000_001))).toThrow(/too large/)
})
