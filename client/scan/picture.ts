/** A picture without colour, row by row, 0 black to 255 white. */
export interface Grey {
  width: number
  height: number
  light: Uint8ClampedArray
}

/** Takes the colour out of a picture (weights of ITU-R BT.601, in 256ths). */
export function greyOf({ width, height, data }: Pick<ImageData, "width" | "height" | "data">): Grey {
  const light = new Uint8ClampedArray(width * height)
  for (let at = 0, from = 0; at < light.length; at++, from += 4)
    light[at] = (77 * data[from]! + 150 * data[from + 1]! + 29 * data[from + 2]!) >> 8
  return { width, height, light }
}

/** The middle of a picture: `share` of its width and of its height. */
export function centre(picture: Grey, share: number): Grey {
  const width = Math.round(picture.width * share)
  const height = Math.round(picture.height * share)
  const left = (picture.width - width) >> 1
  const top = (picture.height - height) >> 1
  const light = new Uint8ClampedArray(width * height)
  for (let y = 0; y < height; y++) {
    const from = (top + y) * picture.width + left
    light.set(picture.light.subarray(from, from + width), y * width)
  }
  return { width, height, light }
}

/** Half as wide and high; each pixel the mean of four. Quietens grain. */
export function halved({ width, height, light }: Grey): Grey {
  const [w, h] = [width >> 1, height >> 1]
  const half = new Uint8ClampedArray(w * h)
  for (let y = 0; y < h; y++)
    for (let x = 0, from = 2 * y * width; x < w; x++, from += 2)
      half[y * w + x] =
        (light[from]! + light[from + 1]! + light[from + width]! + light[from + width + 1]! + 2) >> 2
  return { width: w, height: h, light: half }
}

/** Twice as wide and high, in between straight from pixel to pixel. */
export function doubled({ width, height, light }: Grey): Grey {
  const [w, h] = [width * 2, height * 2]
  const double = new Uint8ClampedArray(w * h)
  for (let y = 0; y < h; y++) {
    // a pixel's middle lies a quarter before or behind that of the one it came from
    const near = (y >> 1) * width
    const far = Math.max(0, Math.min(height - 1, (y >> 1) + (y & 1 ? 1 : -1))) * width
    for (let x = 0; x < w; x++) {
      const here = x >> 1
      const next = Math.max(0, Math.min(width - 1, here + (x & 1 ? 1 : -1)))
      double[y * w + x] =
        (9 * light[near + here]! + 3 * (light[near + next]! + light[far + here]!) + light[far + next]! + 8) >>
        4
    }
  }
  return { width: w, height: h, light: double }
}

/** The picture turned by a quarter of a half turn; corners that come from outside are grey. */
export function turned45({ width, height, light }: Grey): Grey {
  const side = Math.ceil((width + height) * Math.SQRT1_2)
  const turned = new Uint8ClampedArray(side * side).fill(128)
  for (let y = 0; y < side; y++)
    for (let x = 0; x < side; x++) {
      const u = (x - side / 2 + (y - side / 2)) * Math.SQRT1_2 + width / 2
      const v = (y - side / 2 - (x - side / 2)) * Math.SQRT1_2 + height / 2
      if (u >= 0 && v >= 0 && u < width - 1 && v < height - 1)
        turned[y * side + x] = between(light, width, u, v)
    }
  return { width: side, height: side, light: turned }
}

/** The light at a place between four pixels. */
export function between(light: Uint8ClampedArray, width: number, x: number, y: number): number {
  const [left, top] = [Math.floor(x), Math.floor(y)]
  const [right, down] = [x - left, y - top]
  const at = top * width + left
  const above = light[at]! * (1 - right) + light[at + 1]! * right
  const below = light[at + width]! * (1 - right) + light[at + width + 1]! * right
  return above * (1 - down) + below * down
}

/** Mean of the square of `2 reach + 1` pixels around each. */
function means({ width, height, light }: Grey, reach: number): Uint8ClampedArray {
  const across = new Uint16Array(light.length)
  const size = 2 * reach + 1
  for (let y = 0; y < height; y++) {
    const row = y * width
    let sum = 0
    for (let x = -reach; x <= reach; x++) sum += light[row + Math.max(0, Math.min(width - 1, x))]!
    for (let x = 0; x < width; x++) {
      across[row + x] = sum
      sum += light[row + Math.min(width - 1, x + reach + 1)]! - light[row + Math.max(0, x - reach)]!
    }
  }
  const mean = new Uint8ClampedArray(light.length)
  const sums = new Float64Array(width)
  for (let y = -reach; y <= reach; y++) {
    const row = Math.max(0, Math.min(height - 1, y)) * width
    for (let x = 0; x < width; x++) sums[x]! += across[row + x]!
  }
  const share = 1 / (size * size)
  for (let y = 0; y < height; y++) {
    const enters = Math.min(height - 1, y + reach + 1) * width
    const leaves = Math.max(0, y - reach) * width
    for (let x = 0; x < width; x++) {
      mean[y * width + x] = sums[x]! * share
      sums[x]! += across[enters + x]! - across[leaves + x]!
    }
  }
  return mean
}

/** Adds to each pixel how much it differs from those around it, so many times. */
export function sharpened(picture: Grey, reach: number, strength: number): Grey {
  const mean = means(picture, reach)
  const light = new Uint8ClampedArray(mean.length)
  for (let at = 0; at < mean.length; at++) {
    const value = picture.light[at]!
    light[at] = value + strength * (value - mean[at]!)
  }
  return { ...picture, light }
}

/** Each pixel the mean of those around it. */
export function smoothed(picture: Grey, reach: number): Grey {
  return { ...picture, light: means(picture, reach) }
}

/**
 * Takes out slow changes of light, so that a bar in the shade is as dark as one in the sun: each pixel by how
 * much it differs from those around it, in terms of how much those differ.
 */
export function evened(picture: Grey, reach: number): Grey {
  const mean = means(picture, reach)
  const far = new Uint8ClampedArray(mean.length)
  for (let at = 0; at < far.length; at++) far[at] = Math.abs(picture.light[at]! - mean[at]!)
  const spread = means({ ...picture, light: far }, reach)
  const light = new Uint8ClampedArray(mean.length)
  for (let at = 0; at < light.length; at++)
    light[at] = 128 + (80 * (picture.light[at]! - mean[at]!)) / Math.max(4, spread[at]!)
  return { ...picture, light }
}
