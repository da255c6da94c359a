import { bySaying, isRight, isWeak, type Reading, type Scan } from "./codes.ts"
import { type Grey, halved } from "./picture.ts"
import { VARIANTS, type Variant, View, WHOLE } from "./variants.ts"

/** ms after which no further look is begun: at a frame of the camera, at a photo. */
const PATIENCE_MS = { frame: 120, photo: 6000 } as const
/** Sizes in which a photo is read well, by its longest side in pixels. */
const PHOTO_SIDES = { most: 1700, least: 400 } as const

/**
 * All engines together, one look after the other until there is a code.
 *
 * A frame gets the first look always and then, while its time lasts, the next few in turn: a code that is held
 * still for a second has had them all. A photo gets all of them, in several sizes. Codes with a strong check count
 * at once. Weak ones in a photo count when two looks agree; in frames, the page waits for a second frame.
 */
export class CombinedReader {
  readonly #looks: readonly Variant[]
  readonly #now: () => number
  #turn = 0

  /** @param more looks that only this browser can take, the most promising of all after the first */
  constructor(more: readonly Variant[] = [], now = () => performance.now()) {
    this.#looks = [...more, ...VARIANTS]
    this.#now = now
  }

  /**
   * What is in a frame, what says most first.
   *
   * @param source the same with its colours, for the browser's own reader
   */
  async frame(picture: Grey, source?: ImageBitmap): Promise<Scan[]> {
    const until = this.#now() + PATIENCE_MS.frame
    const view = new View(picture, source)
    let seen = await lookAt(view, WHOLE)
    for (let looks = 0; seen.length === 0 && looks < this.#looks.length && this.#now() < until; looks++) {
      seen = await lookAt(view, this.#looks[this.#turn]!)
      this.#turn = (this.#turn + 1) % this.#looks.length
    }
    return seen
  }

  /** What is in a photo, what says most first. */
  async photo(picture: Grey, source?: ImageBitmap): Promise<Scan[]> {
    const until = this.#now() + PATIENCE_MS.photo
    const seenOnce = new Set<string>()
    for (const sized of sizes(picture)) {
      const view = new View(sized, source)
      for (const variant of [WHOLE, ...this.#looks]) {
        const seen = await lookAt(view, variant)
        const counts = seen.filter((scan) => !isWeak(scan) || seenOnce.has(scan.symbology + scan.code))
        if (counts.length > 0) return counts
        for (const { symbology, code } of seen) seenOnce.add(symbology + code)
        if (this.#now() >= until) return []
      }
    }
    return []
  }
}

async function lookAt(view: View, { look }: Variant): Promise<Scan[]> {
  const right = (await look(view)).filter(isRight)
  const strong = right.filter((reading) => !isWeak(reading))
  return withoutTwins(strong.length > 0 ? strong : right).toSorted(bySaying)
}

function withoutTwins(readings: readonly Reading[]): Scan[] {
  const scans = new Map(readings.map(({ code, symbology }) => [symbology + code, { code, symbology }]))
  return [...scans.values()]
}

/** The photo in a size that is read well, then in others: smaller ones show a blurred code sharper. */
function* sizes(picture: Grey): Generator<Grey> {
  const side = ({ width, height }: Grey) => Math.max(width, height)
  if (side(picture) > PHOTO_SIDES.most) {
    const half = halved(picture)
    yield half
    yield picture
    yield halved(half)
    return
  }
  yield picture
  if (side(picture) >= 2 * PHOTO_SIDES.least) yield halved(picture)
}
