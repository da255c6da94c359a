/** What became of a design's cups: those that were finished, good or not, and those of them that were scrapped. */
export interface ScrapRecord {
  made: number
  scrapped: number
}

/** One of twenty, until the studio's own record says otherwise. Common practice, no source. */
const BEFORE = { made: 20, scrapped: 1 }

/** Share of cups that will be scrapped, from the design's record on top of the cautious start. */
export function scrapShare({ made, scrapped }: ScrapRecord): number {
  return (scrapped + BEFORE.scrapped) / (made + BEFORE.made)
}

/** So many cups more to start, to the nearest, for so many good ones: cups × share ÷ (1 − share). */
export function spareCups(cups: number, record: ScrapRecord): number {
  const share = Math.min(0.9, scrapShare(record))
  return Math.round((cups * share) / (1 - share))
}
