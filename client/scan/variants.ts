import type { Reading } from "./codes.ts"
import { readFirst } from "./first-engine.ts"
import { centre, doubled, evened, type Grey, halved, sharpened, smoothed, turned45 } from "./picture.ts"
import { type Look, readSecond } from "./second-engine.ts"
import { findStrips, type Strip, straightened } from "./strips.ts"

/** A picture being read, with what several looks at it need made once. */
export class View {
  readonly picture: Grey
  /** the same with its colours, where there is one */
  readonly source: ImageBitmap | undefined
  #even: Grey | undefined
  #strips: readonly Strip[] | undefined

  constructor(picture: Grey, source?: ImageBitmap) {
    this.picture = picture
    this.source = source
  }

  get even(): Grey {
    this.#even ??= evened(this.picture, 16)
    return this.#even
  }

  get strips(): readonly Strip[] {
    this.#strips ??= findStrips(this.picture, 3)
    return this.#strips
  }
}

/** One way of looking at a picture. */
export interface Variant {
  name: string
  look: (view: View) => Promise<Reading[]> | Reading[]
}

const variant = (name: string, look: Variant["look"]): Variant => ({ name, look })

/** As it is; turned by quarters too. */
export const WHOLE = variant("whole", ({ picture }) => readSecond(picture))

/** The most promising first: by what each read beyond those before it, for its time (`npm run bench -- reading`). */
export const VARIANTS: readonly Variant[] = [
  variant("bars straightened and sharpened", (view) => inStrips(view, (strip) => sharpened(strip, 4, 2))),
  variant("light evened", ({ even }) => readSecond(even)),
  variant("bars straightened", (view) => inStrips(view, (strip) => strip)),
  variant("middle enlarged, evened, sharpened", ({ even }) =>
    readSecond(sharpened(doubled(centre(even, 0.6)), 3, 1.5)),
  ),
  variant("one threshold", ({ picture }) => readSecond(picture, { oneThreshold: true })),
  variant("light bars on dark", ({ picture }) => readSecond(picture, { inverted: true })),
  variant("enlarged", ({ picture }) => readSecond(doubled(picture))),
  variant("enlarged and sharpened", ({ picture }) => readSecond(sharpened(doubled(picture), 4, 3))),
  variant("enlarged, evened, sharpened", ({ even }) => readSecond(sharpened(doubled(even), 3, 1.5))),
  variant("grain smoothed", ({ picture }) => readSecond(evened(smoothed(picture, 1), 32))),
  variant("smaller", ({ picture }) => readSecond(evened(halved(picture), 16))),
  variant("turned by an eighth", ({ picture }) => readSecond(turned45(picture))),
  variant("first engine", ({ picture }) => readFirst(picture)),
]

async function inStrips(view: View, prepare: (strip: Grey) => Grey): Promise<Reading[]> {
  const look: Look = { straight: true }
  const all: Reading[] = []
  for (const strip of view.strips)
    all.push(...(await readSecond(prepare(straightened(view.picture, strip, 3)), look)))
  return all
}
