import type { IsoDate } from "./dates.ts"

/** What happened to one container, in the order of the book. Amounts in base units. */
export type Event =
  /** it was filled; from then on its amount is known, unless it was only guessed */
  | { what: "filled"; on: IsoDate; isKnown: boolean }
  /** used for a coat: as planned, or what measuring added to that (below zero: took off it) */
  | { what: "used"; amount: number; isPlanned: boolean }
  /** counted: found less what the book said; a look at the level puts the book right and tells nothing exact */
  | { what: "counted"; on: IsoDate; difference: number; isExact: boolean }

/** Between two times at which somebody knew what was in a container. */
export interface Stretch {
  from: IsoDate
  to: IsoDate
  /** it begins with the filling and not with a count */
  sinceFilled: boolean
  /** what the plans of the coats in between say */
  planned: number
  /** what is gone for use, by the counts: all but what was spilled, thrown away or poured over */
  counted: number
}

/**
 * What counts say was used, beside the plans: from one exact count to the next, used by count = used by the book less
 * the differences that were found. A stretch in which nothing was used is left out.
 */
export function stretches(events: readonly Event[]): Stretch[] {
  const all: Stretch[] = []
  let from: { on: IsoDate; sinceFilled: boolean } | null = null
  let [planned, counted] = [0, 0]
  for (const event of events) {
    switch (event.what) {
      case "used":
        if (event.isPlanned) planned += event.amount
        counted += event.amount
        continue
      case "counted":
        counted -= event.difference
        if (!event.isExact) continue
        if (from !== null && planned > 0) all.push({ ...from, from: from.on, to: event.on, planned, counted })
        from = { on: event.on, sinceFilled: false }
        break
      case "filled":
        from = event.isKnown ? { on: event.on, sinceFilled: true } : null
    }
    ;[planned, counted] = [0, 0]
  }
  return all.map(({ from, to, sinceFilled, planned, counted }) => ({
    from,
    to,
    sinceFilled,
    planned,
    counted,
  }))
}
