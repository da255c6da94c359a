/** A number for an SVG: enough decimals to look right, few enough to read. */
export function rounded(value: number, decimals = 1): number {
  return Number(value.toFixed(decimals))
}

/**
 * Places for labels as near to what they name as their height allows, none on another.
 *
 * @param wanted where each would like to be, rising
 * @param line the least distance between two
 */
export function labelPlaces(wanted: readonly number[], from: number, to: number, line: number): number[] {
  const places: number[] = []
  for (const want of wanted) places.push(Math.max(want, (places.at(-1) ?? from - line) + line))
  for (let i = places.length - 1; i >= 0; i--) {
    places[i] = Math.min(places[i]!, (places[i + 1] ?? to + line) - line)
  }
  return places
}
