import type { Sighting } from "./codes.ts"

const OUT_OF_SIGHT_MS = 2000
/** How many codes are remembered: more than stand on any label, and few enough to cost nothing. */
const MOST = 50

/** "first": not seen before; "again": seen before, gone for two seconds, and back. */
export type Counted = "first" | "again"

/**
 * Makes one scan of the many times a camera sees a code: it counts when it comes into sight, and again only
 * after two seconds out of sight. One that is not sure counts when two sightings agree.
 */
export class Sightings {
  readonly #lastSeen = new Map<string, { atMs: number; inSight: boolean; before: boolean }>()

  /** How many codes it remembers. */
  get remembered(): number {
    return this.#lastSeen.size
  }

  /** @param nowMs a clock that only goes forward. @returns null when this sighting does not count */
  counts(scan: Sighting, nowMs: number): Counted | null {
    const name = `${scan.symbology} ${scan.code}`
    const last = this.#lastSeen.get(name)
    const recent = last !== undefined && nowMs - last.atMs < OUT_OF_SIGHT_MS
    const counted = recent && last.inSight
    const counts = !counted && (recent || scan.sure)
    // the one seen last stands last
    this.#lastSeen.delete(name)
    this.#lastSeen.set(name, {
      atMs: nowMs,
      inSight: counted || counts,
      before: counts || (last?.before ?? false),
    })
    for (const [oldest] of this.#lastSeen) {
      if (this.#lastSeen.size <= MOST) break
      this.#lastSeen.delete(oldest)
    }
    if (!counts) return null
    return last?.before ? "again" : "first"
  }
}
