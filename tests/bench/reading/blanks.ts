import type { Chance } from "../../support/chance.ts"
import type { Sample } from "./codes.ts"
import { DRAWN, draw, type Label } from "./scene.ts"

/** Something that is no code, though it may look like one. */
export interface Blank {
  name: string
  label: (random: Chance) => Label | Promise<Label>
}

export const BLANKS: readonly Blank[] = [
  { name: "bars of any width", label: (random) => bars(() => 1 + random.below(4)) },
  { name: "even stripes", label: (random) => bars(constantly(1 + random.below(3))) },
  { name: "squares at random", label: squares },
  { name: "lines like writing", label: writing },
  { name: "clouds", label: clouds },
  { name: "wood", label: wood },
  { name: "half of an EAN-13", label: (random) => halfOf({ bcid: "ean13", text: `952${some(random, 9)}` }) },
  {
    name: "half of a Code 128",
    label: (random) => halfOf({ bcid: "code128", text: `K${some(random, 12)}` }),
  },
  {
    name: "half of a QR",
    label: (random) => halfOf({ bcid: "qrcode", text: `https://kit.example/${some(random, 8)}` }),
  },
  { name: "a code of another kind", label: (random) => anotherKind(random) },
]

function blank(wide: number, high: number, ink: (x: number, y: number) => number, flat = false): Label {
  const [width, height] = [wide * DRAWN, high * DRAWN]
  const pixels = new Float32Array(width * height)
  for (let y = 0; y < height; y++)
    for (let x = 0; x < width; x++) pixels[y * width + x] = ink(x / DRAWN, y / DRAWN)
  return { width, height, pixels, flat }
}

function constantly(value: number): () => number {
  return () => value
}

function bars(width: () => number): Label {
  const paper: number[] = []
  for (let dark = true; paper.length < 110; dark = !dark) {
    const value = dark ? 0 : 1
    for (let at = width(); at > 0; at--) paper.push(value)
  }
  // bright at the ends, as with a code
  return blank(132, 50, (x, y) => (y < 3 || y > 45 ? 1 : (paper[Math.floor(x) - 11] ?? 1)))
}

function squares(random: Chance): Label {
  const side = 16 + random.below(10)
  const dark = Array.from({ length: side * side }, () => random.below(2))
  return blank(
    side + 10,
    side + 10,
    (x, y) => {
      const [across, down] = [Math.floor(x) - 5, Math.floor(y) - 5]
      return across < 0 || down < 0 || across >= side || down >= side ? 1 : dark[down * side + across]!
    },
    true,
  )
}

/** Rows of short strokes, now upright, now leaning, with gaps between words. */
function writing(random: Chance): Label {
  const strokes = Array.from({ length: 12 * 70 }, () => (random.below(5) === 0 ? null : random.below(4)))
  return blank(150, 90, (x, y) => {
    const [row, column] = [Math.floor(y / 7), Math.floor(x / 2)]
    const stroke = strokes[row * 70 + column]
    const [u, v] = [x % 2, y % 7]
    if (stroke === undefined || stroke === null || v > 5) return 1
    const at = stroke === 0 ? 0.3 : stroke === 1 ? 0.3 + v / 6 : stroke === 2 ? 1.2 - v / 6 : u
    return Math.abs(u - at) < 0.5 && (stroke !== 3 || v < 1 || v > 4) ? 0 : 1
  })
}

/** Sums of waves, rougher and rougher: a marbled sheet. */
function clouds(random: Chance): Label {
  const waves = Array.from({ length: 24 }, (_, nth) => {
    const turn = random.even() * 2 * Math.PI
    const often = 0.03 * 1.25 ** nth
    return {
      x: often * Math.cos(turn),
      y: often * Math.sin(turn),
      from: random.even() * 7,
      high: 1.15 ** -nth,
    }
  })
  return blank(140, 100, (x, y) => {
    const sum = waves.reduce((all, one) => all + one.high * Math.sin(one.x * x + one.y * y + one.from), 0)
    return Math.max(0, Math.min(1, 0.5 + sum / 4))
  })
}

function wood(random: Chance): Label {
  const [fine, bend] = [0.5 + random.even() * 2, 2 + random.even() * 8]
  return blank(
    140,
    100,
    (x, y) => 0.5 + 0.5 * Math.sin(fine * (x + bend * Math.sin(y / 25) + 0.6 * Math.sin(x))),
  )
}

async function halfOf(code: Omit<Sample, "reads" | "flat">): Promise<Label> {
  const flat = code.bcid === "qrcode"
  const label = await draw({ ...code, flat, reads: { code: "", symbology: "typed" } })
  const pixels = label.pixels.slice()
  // bright paper over the rest, so that it ends like a code
  for (let at = 0; at < pixels.length; at++) if (at % label.width > label.width * 0.55) pixels[at] = 1
  return { ...label, pixels }
}

/** Read by none: a code that is not for supplies. */
function anotherKind(random: Chance): Promise<Label> {
  const kinds = [
    { bcid: "pdf417", text: `K${some(random, 20)}`, flat: true },
    { bcid: "azteccode", text: `K${some(random, 20)}`, flat: true },
    { bcid: "code93", text: `K${some(random, 8)}`, flat: false },
    { bcid: "rationalizedCodabar", text: `A${some(random, 10)}B`, flat: false },
  ]
  return draw({ ...kinds[random.below(kinds.length)]!, reads: { code: "", symbology: "typed" } })
}

function some(random: Chance, count: number): string {
  return Array.from({ length: count }, () => random.below(10)).join("")
}
