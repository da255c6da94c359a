import { bySaying, isFlat, isRight, isWeak, type Reading, type Scan, type Sighting } from "./codes.ts"

/** Lines that have to say the same: two are often wrong together, three were not in thousands of pictures. */
const LINES = 3
/** Of a weak code, in two looks at least, one of them along the bars. */
const WEAK_LINES = 6
/** How much a code of two dimensions says by itself. */
const FLAT_LINES = Number.POSITIVE_INFINITY

/** Collects what several looks at one picture say, and tells when it is enough. */
export class Evidence {
  readonly #seen = new Map<string, { scan: Scan; looks: number; lines: number; straight: boolean }>()

  /** One look's readings; those that cannot be right are left out. */
  add(readings: readonly Reading[]): void {
    const now = new Map<string, Reading>()
    for (const reading of readings.filter(isRight)) {
      const name = reading.symbology + reading.code
      const twin = now.get(name)
      if (twin === undefined || twin.lines < reading.lines) now.set(name, reading)
    }
    for (const [name, { code, symbology, lines, straight }] of now) {
      const before = this.#seen.get(name) ?? {
        scan: { code, symbology },
        looks: 0,
        lines: 0,
        straight: false,
      }
      this.#seen.set(name, {
        scan: before.scan,
        looks: before.looks + 1,
        lines: before.lines + (isFlat(before.scan) ? FLAT_LINES : lines),
        straight: before.straight || straight,
      })
    }
  }

  /** What may be believed by now, what says most first. Where a strong code is, weak ones may be a part of it. */
  get enough(): Scan[] {
    const all = [...this.#seen.values()]
    const strong = all.filter(({ scan, lines }) => !isWeak(scan) && lines >= LINES)
    const weak = all.filter(
      ({ scan, looks, lines, straight }) => isWeak(scan) && looks >= 2 && straight && lines >= WEAK_LINES,
    )
    return (strong.length > 0 ? strong : weak).map(({ scan }) => scan).toSorted(bySaying)
  }

  /** Of a frame: what may be believed, and what may be when the next frame says it too. */
  get sightings(): Sighting[] {
    const { enough } = this
    if (enough.length > 0) return enough.map((scan) => ({ ...scan, sure: !isWeak(scan) }))
    return [...this.#seen.values()]
      .filter(({ scan, straight }) => !isWeak(scan) || straight)
      .map(({ scan }) => ({ ...scan, sure: false }))
  }
}
