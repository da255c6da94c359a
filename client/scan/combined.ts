import type { Sighting } from "./codes.ts"
import { Evidence } from "./evidence.ts"
import { type Grey, halved } from "./picture.ts"
import { ALWAYS, IN_TURN, type Variant, View } from "./variants.ts"

/** ms after which no further look is begun: at a frame of the camera, at a photo. */
const PATIENCE_MS = { frame: 120, photo: 6000 } as const
/** Sizes in which a photo is read well, by its longest side in pixels. */
const PHOTO_SIDES = { most: 1700, least: 400 } as const

/**
 * All engines together, one look after the other until there is a code.
 *
 * A frame gets the first looks always and then, while its time lasts, the next few in turn: a code that is held
 * still for a second or two has had them all. A photo gets all of them, in several sizes. A code with a strong check counts
 * as soon as one look is sure of it. A weak one counts when two looks agree; of frames, two frames have to.
 */
export class CombinedReader {
  readonly #inTurn: readonly Variant[]
  readonly #now: () => number
  #turn = 0

  /** @param more looks that only this browser can take, the most promising of all after the first */
  constructor(more: readonly Variant[] = [], now = () => performance.now()) {
    this.#inTurn = [...more, ...IN_TURN]
    this.#now = now
  }

  /**
   * What is in a frame, what says most first.
   *
   * @param source the same with its colours, for the browser's own reader
   */
  async frame(picture: Grey, source?: ImageBitmap): Promise<Sighting[]> {
    const until = this.#now() + PATIENCE_MS.frame
    const view = new View(picture, source)
    const evidence = new Evidence()
    for (const variant of ALWAYS) {
      evidence.add(await variant.look(view))
      if (evidence.enough.length > 0) return evidence.sightings
    }
    for (let looks = 0; looks < this.#inTurn.length; looks++) {
      // one more at least, however slow the device
      if (looks > 0 && this.#now() >= until) break
      evidence.add(await this.#inTurn[this.#turn]!.look(view))
      this.#turn = (this.#turn + 1) % this.#inTurn.length
      if (evidence.enough.length > 0) break
    }
    return evidence.sightings
  }

  /** What is in a photo, what says most first. */
  async photo(picture: Grey, source?: ImageBitmap): Promise<Sighting[]> {
    const until = this.#now() + PATIENCE_MS.photo
    const evidence = new Evidence()
    for (const sized of sizes(picture)) {
      const view = new View(sized, source)
      for (const variant of [...ALWAYS, ...this.#inTurn]) {
        evidence.add(await variant.look(view))
        const { enough } = evidence
        if (enough.length > 0) return enough.map((scan) => ({ ...scan, sure: true }))
        if (this.#now() >= until) return []
      }
    }
    return []
  }
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
