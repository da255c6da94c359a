import bwip from "bwip-js/node"
import sharp from "sharp"
import type { Chance } from "../../support/chance.ts"
import type { Sample } from "./codes.ts"

/** How a code stands before the camera, and what light and lens do to it. Lengths of the code are in modules. */
export interface Scene {
  /** pixels a narrow bar is wide in the middle of the picture */
  modulePx: number
  turnDegrees?: number
  /** how much nearer one end of the picture is than its middle, across and down: 0.2 is a fifth */
  tilt?: { across: number; down: number }
  /** wrapped around a can of this radius, upright */
  canRadius?: number
  /** radius of the disc that a point becomes out of focus */
  defocus?: number
  /** how far it moves, and in which direction, while the picture is taken */
  motion?: { modules: number; degrees: number }
  /** light on black and on white paper, 0 to 255 */
  ink?: { black: number; white: number }
  /** the shadow's edge lies across the code: how much of the light is left in it */
  shadow?: number
  /** how wide a lamp's reflection is, of the picture's width */
  glare?: number
  /** light bars on dark paper */
  inverted?: boolean
  /** standard deviation of the grain */
  noise?: number
  /** JPEG quality */
  jpeg?: number
}

const WIDTH = 640
const HEIGHT = 480
/** Pixels of the drawing a module has; plenty, so that the drawing's own steps do not show. */
export const DRAWN = 6
const QUIET = 11
/** Rays a pixel collects, each way. */
const RAYS = 3

/** How big the label can be. */
export interface Room {
  /** a code of two dimensions */
  flat: boolean
  /** pixels a module may have for the whole label to be in the picture, straight */
  mostPx: number
  /** how wide the label is, in modules */
  wide: number
}

/** A picture of a label in its scene, as a phone would have taken it: PNG or, where asked for, JPEG. */
export async function takePicture(
  label: Label,
  sceneIn: (random: Chance, room: Room) => Scene,
  random: Chance,
): Promise<Buffer> {
  const mostPx = Math.min((WIDTH * 0.94) / label.width, (HEIGHT * 0.94) / label.height) * DRAWN
  const scene = sceneIn(random, { flat: label.flat, mostPx, wide: label.width / DRAWN })
  let light = project(label, scene, random)
  if (scene.defocus) light = blur(light, disc(scene.defocus * scene.modulePx))
  if (scene.motion) light = blur(light, line(scene.motion.modules * scene.modulePx, scene.motion.degrees))
  illuminate(light, scene, random)
  const pixels = Buffer.alloc(WIDTH * HEIGHT)
  const noise = scene.noise ?? 1.5
  for (let at = 0; at < pixels.length; at++)
    pixels[at] = Math.max(0, Math.min(255, Math.round(light[at]! + noise * random.normal())))
  const picture = sharp(pixels, { raw: { width: WIDTH, height: HEIGHT, channels: 1 } })
  return scene.jpeg === undefined
    ? picture.png().toBuffer()
    : picture.jpeg({ quality: scene.jpeg }).toBuffer()
}

/** What is printed, `DRAWN` pixels a module. */
export interface Label {
  width: number
  height: number
  /** 0 ink, 1 paper */
  pixels: Float32Array
  /** a code of two dimensions */
  flat: boolean
}

/** A label with a code on it, drawn by bwip-js. */
export async function draw({ bcid, text, flat }: Sample): Promise<Label> {
  const stacked = bcid.includes("stacked")
  const drawn = await bwip.toBuffer({
    bcid,
    text,
    scale: DRAWN,
    backgroundcolor: "FFFFFF",
    ...(flat || stacked ? {} : { height: 16, includetext: true, textsize: 7 }),
  })
  const margin = (flat ? 5 : QUIET) * DRAWN
  const { data, info } = await sharp(drawn)
    .flatten({ background: "#ffffff" })
    .extend({ top: margin, bottom: margin, left: margin, right: margin, background: "#ffffff" })
    .grayscale()
    .raw()
    .toBuffer({ resolveWithObject: true })
  const pixels = Float32Array.from(data, (value) => value / 255)
  return { width: info.width, height: info.height, pixels, flat }
}

/** What each pixel sees of the label, or of the bench behind it. */
function project(label: Label, scene: Scene, random: Chance): Float32Array {
  const { black, white } = scene.ink ?? { black: 35, white: 215 }
  const bench = someBench(random)
  const seen = new Float32Array(WIDTH * HEIGHT)
  const [cos, sin] = [Math.cos, Math.sin].map((of) => of(((scene.turnDegrees ?? 0) * Math.PI) / 180)) as [
    number,
    number,
  ]
  const { across, down } = scene.tilt ?? { across: 0, down: 0 }
  // not always in the very middle
  const shift = { x: (random.even() - 0.5) * 40, y: (random.even() - 0.5) * 40 }
  /** the place on the label that a ray meets; none beside a can */
  const place = (u: number, v: number) => {
    const near = 1 + (across * u) / (WIDTH / 2) + (down * v) / (HEIGHT / 2)
    const wide = (cos * u + sin * v) / near / scene.modulePx
    const radius = scene.canRadius
    return {
      x: radius === undefined ? wide : radius * Math.asin(wide / radius),
      y: (cos * v - sin * u) / near / scene.modulePx,
    }
  }
  const half = { x: label.width / DRAWN / 2 + 3, y: label.height / DRAWN / 2 + 3 }
  for (let y = 0; y < HEIGHT; y++)
    for (let x = 0; x < WIDTH; x++) {
      const [left, top] = [x - WIDTH / 2 - shift.x, y - HEIGHT / 2 - shift.y]
      const middle = place(left + 0.5, top + 0.5)
      // beside the label one ray is enough
      if (!(Math.abs(middle.x) < half.x && Math.abs(middle.y) < half.y)) {
        seen[y * WIDTH + x] = bench(x, y)
        continue
      }
      let sum = 0
      for (let ray = 0; ray < RAYS * RAYS; ray++) {
        const met = place(left + ((ray % RAYS) + 0.5) / RAYS, top + (Math.floor(ray / RAYS) + 0.5) / RAYS)
        const paper = Number.isNaN(met.x) ? undefined : at(label, met.x, met.y)
        sum +=
          paper === undefined ? bench(x, y) : black + (white - black) * (scene.inverted ? 1 - paper : paper)
      }
      seen[y * WIDTH + x] = sum / (RAYS * RAYS)
    }
  return seen
}

function at(label: Label, across: number, down: number): number | undefined {
  const x = Math.floor(across * DRAWN + label.width / 2)
  const y = Math.floor(down * DRAWN + label.height / 2)
  if (x < 0 || y < 0 || x >= label.width || y >= label.height) return undefined
  return label.pixels[y * label.width + x]
}

/** Grey, with a few things lying about. */
function someBench(random: Chance): (x: number, y: number) => number {
  const ground = 60 + random.below(140)
  const things = Array.from({ length: 6 }, () => ({
    x: random.below(WIDTH),
    y: random.below(HEIGHT),
    width: 20 + random.below(200),
    height: 20 + random.below(150),
    light: 30 + random.below(200),
  }))
  return (x, y) =>
    things.find((one) => x >= one.x && y >= one.y && x < one.x + one.width && y < one.y + one.height)
      ?.light ?? ground
}

type Kernel = readonly { x: number; y: number; weight: number }[]

function disc(radius: number): Kernel {
  const reach = Math.ceil(radius)
  const kernel: { x: number; y: number; weight: number }[] = []
  for (let y = -reach; y <= reach; y++)
    for (let x = -reach; x <= reach; x++) {
      // the edge counts in part
      const weight = Math.max(0, Math.min(1, radius + 0.5 - Math.hypot(x, y)))
      if (weight > 0) kernel.push({ x, y, weight })
    }
  return kernel
}

function line(length: number, degrees: number): Kernel {
  const steps = Math.max(2, Math.ceil(length * 2))
  const [dx, dy] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)]
  return Array.from({ length: steps }, (_, step) => {
    const along = (step / (steps - 1) - 0.5) * length
    return { x: Math.round(along * dx), y: Math.round(along * dy), weight: 1 }
  })
}

function blur(light: Float32Array, kernel: Kernel): Float32Array {
  const total = kernel.reduce((sum, { weight }) => sum + weight, 0)
  const blurred = new Float32Array(light.length)
  for (const { x: dx, y: dy, weight } of kernel)
    for (let y = 0; y < HEIGHT; y++) {
      const from = Math.max(0, Math.min(HEIGHT - 1, y + dy)) * WIDTH
      for (let x = 0; x < WIDTH; x++)
        blurred[y * WIDTH + x]! += (weight / total) * light[from + Math.max(0, Math.min(WIDTH - 1, x + dx))]!
    }
  return blurred
}

function illuminate(light: Float32Array, scene: Scene, random: Chance): void {
  if (scene.shadow !== undefined) {
    const slope = random.even() * 2 - 1
    for (let y = 0; y < HEIGHT; y++)
      for (let x = 0; x < WIDTH; x++) {
        // soft over some twenty pixels
        const into = (x - WIDTH / 2 + slope * (y - HEIGHT / 2)) / 10
        light[y * WIDTH + x]! *= scene.shadow + (1 - scene.shadow) / (1 + Math.exp(into))
      }
  }
  if (scene.glare !== undefined) {
    const [cx, cy] = [WIDTH * (0.35 + 0.3 * random.even()), HEIGHT * (0.4 + 0.2 * random.even())]
    const reach = (scene.glare * WIDTH) / 2
    for (let y = 0; y < HEIGHT; y++)
      for (let x = 0; x < WIDTH; x++) {
        const far = Math.hypot(x - cx, (y - cy) * 2) / reach
        light[y * WIDTH + x]! += 400 * Math.exp(-far * far * 1.5)
      }
  }
}
