import type { Reading } from "./codes.ts"
import { readFirst } from "./first-engine.ts"
import { centre, doubled, evened, type Grey, halved, sharpened, smoothed, turned45 } from "./picture.ts"
import { readSecond, type Threshold } from "./second-engine.ts"
import { findStrips, type Strip, straightened } from "./strips.ts"

/** How far around a pixel the light is evened out: some ten bars. */
const AROUND = 16

/** A picture being read, with what several looks at it need made once. */
export class View {
  readonly picture: Grey
  /** the same with its colours, where there is one */
  readonly source: ImageBitmap | undefined
  #even: Grey | undefined

  constructor(picture: Grey, source?: ImageBitmap) {
    this.picture = picture
    this.source = source
  }

  get even(): Grey {
    this.#even ??= evened(this.picture, AROUND)
    return this.#even
  }
}

/** One way of looking at a picture. */
export interface Variant {
  name: string
  look: (view: View) => Promise<Reading[]> | Reading[]
}

/** What every frame gets. */
export const ALWAYS: readonly Variant[] = [
  // turned by quarters too
  { name: "whole", look: ({ picture }) => readSecond(picture) },
  {
    name: "bars, light evened",
    look: ({ even }) => inStrips(even, findStrips(even, STRIPS), EVEN_STRIP),
  },
]

/** The most promising first: by what each read beyond those before it, for its time. */
export const IN_TURN: readonly Variant[] = [
  { name: "light evened", look: ({ even }) => readSecond(even) },
  {
    name: "bars",
    look: ({ picture }) => inStrips(picture, findStrips(picture, STRIPS), STRIP),
  },
  {
    name: "enlarged, light evened",
    look: ({ even }) => readSecond(doubled(even), { linesAsOne: 2, threshold: "FixedThreshold" }),
  },
  {
    name: "middle enlarged and sharpened",
    look: ({ picture }) => readSecond(sharpened(doubled(centre(picture, 0.6)), 3, 2), { linesAsOne: 3 }),
  },
  {
    name: "bars found small",
    look: ({ even }) => inStrips(even, findStrips(halved(even), STRIPS).map(twice), EVEN_STRIP),
  },
  { name: "light bars on dark", look: ({ picture }) => readSecond(picture, { inverted: true }) },
  { name: "fixed threshold", look: ({ picture }) => readSecond(picture, { threshold: "FixedThreshold" }) },
  { name: "enlarged", look: ({ picture }) => readSecond(doubled(picture), { linesAsOne: 2 }) },
  {
    name: "enlarged and sharpened",
    look: ({ picture }) => readSecond(sharpened(doubled(picture), 3, 2), { linesAsOne: 3 }),
  },
  { name: "grain smoothed", look: ({ picture }) => readSecond(evened(smoothed(picture, 1), AROUND)) },
  { name: "smaller", look: ({ picture }) => readSecond(evened(halved(picture), AROUND)) },
  { name: "one threshold", look: ({ even }) => readSecond(even, { threshold: "GlobalHistogram" }) },
  { name: "turned by an eighth", look: ({ even }) => readSecond(turned45(even)) },
  { name: "first engine", look: ({ picture }) => readFirst(picture) },
]

/** How many places are looked at that could be a linear code. */
const STRIPS = 3
/** How many times wider than it is a strip is looked at. */
const WIDER = 4

type Prepared = readonly [prepare: (strip: Grey) => Grey, threshold: Threshold][]

const asItIs = (strip: Grey) => strip
const sharp = (reach: number, strength: number) => (strip: Grey) => sharpened(strip, reach, strength)

/** The wider the reach, the more out of focus the bars may be. */
const EVEN_STRIP: Prepared = [
  [sharp(5, 2), "FixedThreshold"],
  [asItIs, "LocalAverage"],
  [sharp(8, 4), "FixedThreshold"],
  [sharp(12, 6), "FixedThreshold"],
]
const STRIP: Prepared = [
  [sharp(5, 2), "FixedThreshold"],
  [asItIs, "LocalAverage"],
  [sharp(5, 2), "LocalAverage"],
  [sharp(8, 2), "LocalAverage"],
]

/** Bars straightened: thin pictures, each looked at in several ways in a millisecond or two. */
async function inStrips(picture: Grey, strips: readonly Strip[], ways: Prepared): Promise<Reading[]> {
  const all: Reading[] = []
  for (const strip of strips) {
    const straight = straightened(picture, strip, WIDER)
    for (const [prepare, threshold] of ways)
      all.push(...(await readSecond(prepare(straight), { straight: true, threshold })))
  }
  return all
}

function twice(strip: Strip): Strip {
  const { x, y, length, height } = strip
  return { ...strip, x: 2 * x, y: 2 * y, length: 2 * length, height: 2 * height }
}
