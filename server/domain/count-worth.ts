/** What is known of a container that might be counted. */
export interface Countable {
  /** worth of what is left */
  costLeftMicro: number
  /** worth of what was taken from it lately */
  usedLatelyMicro: number
  /** taken by plan alone since somebody last looked, in the amount's own unit */
  unseen: number
  amountLeft: number
}

/** Places from 1: first is most. Equals share a place. */
export interface Places {
  value: number
  speed: number
  doubt: number
}

/**
 * What is worth counting first: each container has a place by what is left in it is worth, by how fast it is used, and
 * by how much was taken unseen beside what should be left; the smallest sum of the three comes first. Common practice
 * of cycle counting, no source for the equal weights. What nobody took from unseen is as the book says and left out.
 */
export function rankedForCounting<One extends Countable>(all: readonly One[]): (One & { places: Places })[] {
  const open = all.filter((one) => one.unseen > 0)
  const value = placesBy(open, (one) => one.costLeftMicro)
  const speed = placesBy(open, (one) => one.usedLatelyMicro)
  const doubt = placesBy(open, (one) => one.unseen / one.amountLeft)
  return open
    .map((one, index) => ({
      ...one,
      places: { value: value[index]!, speed: speed[index]!, doubt: doubt[index]! },
    }))
    .sort((a, b) => sumOf(a.places) - sumOf(b.places) || a.places.value - b.places.value)
}

function placesBy<One>(all: readonly One[], by: (one: One) => number): number[] {
  return all.map((one) => 1 + all.filter((other) => by(other) > by(one)).length)
}

function sumOf({ value, speed, doubt }: Places): number {
  return value + speed + doubt
}
