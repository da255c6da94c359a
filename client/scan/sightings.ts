import type { Scan } from "./codes.ts"

const OUT_OF_SIGHT_MS = 2000
/** Short codes turn up by chance within the bars of longer ones, so they count when seen twice. */
const TWICE: readonly Scan["symbology"][] = ["EAN-8", "UPC-E"]

/**
 * Makes one scan of the many times a camera sees a code: it counts when it comes into sight, and again only
 * after two seconds out of sight.
 */
export class Sightings {
  readonly #lastSeen = new Map<string, { atMs: number; counted: boolean }>()

  /** @param nowMs a clock that only goes forward. @returns whether this sighting counts */
  counts(scan: Scan, nowMs: number): boolean {
    const name = `${scan.symbology} ${scan.code}`
    const before = this.#lastSeen.get(name)
    const inSight = before !== undefined && nowMs - before.atMs < OUT_OF_SIGHT_MS
    const counts = TWICE.includes(scan.symbology) ? inSight && !before.counted : !inSight
    this.#lastSeen.set(name, { atMs: nowMs, counted: counts || (inSight && before.counted) })
    return counts
  }
}
