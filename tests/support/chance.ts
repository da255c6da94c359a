/** Chance that falls the same way every time. */
export interface Chance {
  /** even between 0 and 1, neither included */
  even(): number
  /** a whole number from 0 to under `limit` */
  below(limit: number): number
  /** of mean 0 and standard deviation 1 */
  normal(): number
}

/** A seeded generator, 32 bits of state (Mulberry32, T. Ettinger, public domain); normals by Box and Muller. */
export function chance(seed: number): Chance {
  let state = seed >>> 0
  const even = (): number => {
    state = (state + 0x6d2b79f5) >>> 0
    let mixed = Math.imul(state ^ (state >>> 15), state | 1)
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61)
    return (((mixed ^ (mixed >>> 14)) >>> 0) + 0.5) / 2 ** 32
  }
  return {
    even,
    below: (limit) => Math.floor(even() * limit),
    normal: () => Math.sqrt(-2 * Math.log(even())) * Math.cos(2 * Math.PI * even()),
  }
}
