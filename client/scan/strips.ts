import type { Grey } from "./picture.ts"

/** Where many parallel edges are: a linear code, most likely. Angles in radians. */
export interface Strip {
  /** its middle, in pixels of the picture */
  x: number
  y: number
  /** the direction across the bars */
  angle: number
  /** across the bars, and along them */
  length: number
  height: number
}

/** Pixels a block has on each side. */
const BLOCK = 8
/** How much of a block's change of light must go one way. */
const ONE_WAY = 0.42
/** Mean square of the change from pixel to pixel; below it there is nothing but paper. */
const LEAST_CHANGE = 20
const LEAST_BLOCKS = 10

/**
 * Finds the places that look like a linear code, the likeliest first: blocks in which the light changes in one
 * direction only (coherence of the structure tensor; J. Bigün and G. Granlund, 1987), grown together where the
 * direction is the same.
 *
 * @param most how many at most
 */
export function findStrips(picture: Grey, most: number): Strip[] {
  const field = tensors(picture)
  const isBars = field.map(({ xx, yy, xy }) => {
    const one = Math.hypot(xx - yy, 2 * xy)
    return xx + yy > LEAST_CHANGE * BLOCK * BLOCK && one > ONE_WAY * (xx + yy)
  })
  const across = Math.floor(picture.width / BLOCK)
  const groups: number[][] = []
  for (const [start, bars] of isBars.entries()) {
    if (!bars) continue
    const group = grow(start, isBars, field, across)
    if (group.length >= LEAST_BLOCKS) groups.push(group)
  }
  return groups
    .map((group) => ({ group, weight: weightOf(group, field) }))
    .toSorted((a, b) => b.weight - a.weight)
    .slice(0, most)
    .map(({ group }) => stripOf(group, field, across))
}

interface Tensor {
  xx: number
  yy: number
  xy: number
}

/** Sums over each block and, for quiet, its neighbours. */
function tensors({ width, height, light }: Grey): Tensor[] {
  const [across, down] = [Math.floor(width / BLOCK), Math.floor(height / BLOCK)]
  const own = {
    xx: new Float32Array(across * down),
    yy: new Float32Array(across * down),
    xy: new Float32Array(across * down),
  }
  for (let y = 1; y < down * BLOCK - 1; y++) {
    const blockRow = Math.floor(y / BLOCK) * across
    for (let x = 1; x < across * BLOCK - 1; x++) {
      const at = y * width + x
      // Scharr's weights, which turn with the picture better than others
      const [a, b, c] = [light[at - width - 1]!, light[at - width]!, light[at - width + 1]!]
      const [d, f] = [light[at - 1]!, light[at + 1]!]
      const [g, h, i] = [light[at + width - 1]!, light[at + width]!, light[at + width + 1]!]
      const dx = (3 * (c - a + i - g) + 10 * (f - d)) / 32
      const dy = (3 * (g - a + i - c) + 10 * (h - b)) / 32
      const block = blockRow + (x >> 3)
      own.xx[block]! += dx * dx
      own.yy[block]! += dy * dy
      own.xy[block]! += dx * dy
    }
  }
  const around = (of: Float32Array, x: number, y: number) => {
    let [sum, count] = [0, 0]
    for (let v = Math.max(0, y - 1); v <= Math.min(down - 1, y + 1); v++)
      for (let u = Math.max(0, x - 1); u <= Math.min(across - 1, x + 1); u++) {
        sum += of[v * across + u]!
        count++
      }
    return sum / count
  }
  return Array.from({ length: across * down }, (_, at) => {
    const [x, y] = [at % across, Math.floor(at / across)]
    return { xx: around(own.xx, x, y), yy: around(own.yy, x, y), xy: around(own.xy, x, y) }
  })
}

/** Takes the blocks that hang together with the first and have its direction out of `isBars`. */
function grow(start: number, isBars: boolean[], field: readonly Tensor[], across: number): number[] {
  const group = [start]
  isBars[start] = false
  for (let next = 0; next < group.length; next++) {
    const at = group[next]!
    const x = at % across
    const neighbours = [
      at - across,
      at + across,
      ...(x > 0 ? [at - 1] : []),
      ...(x < across - 1 ? [at + 1] : []),
    ]
    for (const near of neighbours) {
      if (!isBars[near] || !sameWay(field[at]!, field[near]!)) continue
      isBars[near] = false
      group.push(near)
    }
  }
  return group
}

/** Directions within some twelve degrees of each other. */
function sameWay(a: Tensor, b: Tensor): boolean {
  const [ax, ay, bx, by] = [a.xx - a.yy, 2 * a.xy, b.xx - b.yy, 2 * b.xy]
  return ax * bx + ay * by > 0.91 * Math.hypot(ax, ay) * Math.hypot(bx, by)
}

function weightOf(group: readonly number[], field: readonly Tensor[]): number {
  return group.reduce(
    (sum, at) => sum + Math.sqrt(Math.hypot(field[at]!.xx - field[at]!.yy, 2 * field[at]!.xy)),
    0,
  )
}

function stripOf(group: readonly number[], field: readonly Tensor[], across: number): Strip {
  let [one, other] = [0, 0]
  for (const at of group) {
    const { xx, yy, xy } = field[at]!
    one += xx - yy
    other += 2 * xy
  }
  const angle = Math.atan2(other, one) / 2
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)]
  const places = group.map((at) => {
    const [x, y] = [((at % across) + 0.5) * BLOCK, (Math.floor(at / across) + 0.5) * BLOCK]
    return { along: x * cos + y * sin, off: y * cos - x * sin }
  })
  const [from, to] = extent(places.map(({ along }) => along))
  const [top, bottom] = extent(places.map(({ off }) => off))
  const [along, off] = [(from + to) / 2, (top + bottom) / 2]
  return {
    x: along * cos - off * sin,
    y: along * sin + off * cos,
    angle,
    length: to - from + BLOCK,
    height: bottom - top + BLOCK,
  }
}

function extent(values: readonly number[]): [number, number] {
  return [Math.min(...values), Math.max(...values)]
}

/** Rows of the straightened strip. Each is the mean of many, so that grain is gone, and they overlap little. */
const ROWS = 20
/** The widest it is made, in pixels. */
const WIDEST = 1800

/**
 * A strip straightened: bars upright, `scale` times as wide, with room at both ends for the quiet zones.
 * Cubic between the pixels across the bars (Catmull and Rom), the mean along them.
 */
export function straightened(picture: Grey, strip: Strip, scale: number): Grey {
  const length = strip.length * 1.16 + 24
  const width = Math.min(WIDEST, Math.round(length * scale))
  const step = length / width
  const [cos, sin] = [Math.cos(strip.angle), Math.sin(strip.angle)]
  // the ends of the bars are left out: the digits stand there
  const height = Math.max(4, strip.height * 0.8)
  const rays = Math.max(1, Math.min(8, Math.round(height / ROWS)))
  const light = new Uint8ClampedArray(width * ROWS)
  for (let row = 0; row < ROWS; row++) {
    for (let x = 0; x < width; x++) {
      const along = (x + 0.5 - width / 2) * step
      let sum = 0
      for (let ray = 0; ray < rays; ray++) {
        const off = ((row + (ray + 0.5) / rays) / ROWS - 0.5) * height
        sum += cubic(picture, strip.x + along * cos - off * sin, strip.y + along * sin + off * cos)
      }
      light[row * width + x] = sum / rays
    }
  }
  return { width, height: ROWS, light }
}

function cubic({ width, height, light }: Grey, x: number, y: number): number {
  x = Math.max(1, Math.min(width - 3, x - 0.5))
  y = Math.max(1, Math.min(height - 3, y - 0.5))
  const [left, top] = [Math.floor(x), Math.floor(y)]
  const [u, v] = [x - left, y - top]
  const wx0 = u * (-0.5 + u * (1 - 0.5 * u))
  const wx1 = 1 + u * u * (-2.5 + 1.5 * u)
  const wx2 = u * (0.5 + u * (2 - 1.5 * u))
  const wx3 = u * u * (-0.5 + 0.5 * u)
  const wy0 = v * (-0.5 + v * (1 - 0.5 * v))
  const wy1 = 1 + v * v * (-2.5 + 1.5 * v)
  const wy2 = v * (0.5 + v * (2 - 1.5 * v))
  const wy3 = v * v * (-0.5 + 0.5 * v)
  let at = (top - 1) * width + left
  const a = wx0 * light[at - 1]! + wx1 * light[at]! + wx2 * light[at + 1]! + wx3 * light[at + 2]!
  at += width
  const b = wx0 * light[at - 1]! + wx1 * light[at]! + wx2 * light[at + 1]! + wx3 * light[at + 2]!
  at += width
  const c = wx0 * light[at - 1]! + wx1 * light[at]! + wx2 * light[at + 1]! + wx3 * light[at + 2]!
  at += width
  const d = wx0 * light[at - 1]! + wx1 * light[at]! + wx2 * light[at + 1]! + wx3 * light[at + 2]!
  return wy0 * a + wy1 * b + wy2 * c + wy3 * d
}
