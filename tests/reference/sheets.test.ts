import { describe, expect, test } from "vitest"
import { cutSheets, fitPieces } from "../../server/domain/sheets.ts"

// No handbook prints these: they are checked against searches that try everything on a coarse grid.

const SIDES = [1, 2, 3, 4, 5]
const SHEETS = [2, 3, 4, 5, 6, 7]

interface Small {
  w: number
  h: number
  W: number
  H: number
  gap: number
  margin: number
}

function* smallJobs(gaps: number[], margins: number[]): Generator<Small> {
  for (const w of SIDES)
    for (const h of SIDES)
      for (const W of SHEETS)
        for (const H of SHEETS)
          for (const gap of gaps) for (const margin of margins) yield { w, h, W, H, gap, margin }
}

const asJob = ({ w, h, W, H, gap, margin }: Small, mayTurn: boolean) => ({
  pieceWidthUm: w,
  pieceHeightUm: h,
  sheetWidthUm: W,
  sheetHeightUm: H,
  marginUm: margin,
  gapUm: gap,
  mayTurn,
})

/** Pieces by the code under test; a piece too large counts as none. */
function fitted(job: Small, mayTurn: boolean): number {
  try {
    return fitPieces(asJob(job, mayTurn)).perSheet
  } catch {
    return 0
  }
}

/** Most pieces of any arrangement on the grid, by trying every place for every piece, rows or no rows. */
function mostAnywhere({ w, h, W, H, gap, margin }: Small, mayTurn: boolean): number {
  const shapes = mayTurn && w !== h ? [[w, h] as const, [h, w] as const] : [[w, h] as const]
  // a piece with a gap to its right and above may use the margin's first `gap` units for it
  const [across, up] = [W - 2 * margin + gap, H - 2 * margin + gap]
  const taken: boolean[] = new Array(Math.max(0, across * up)).fill(false)
  let best = 0
  const search = (cell: number, placed: number, free: number): void => {
    best = Math.max(best, placed)
    // even with no waste the free cells could not do better
    if (placed + Math.floor(free / ((w + gap) * (h + gap))) <= best) return
    let at = cell
    while (at < taken.length && taken[at]) at++
    if (at >= taken.length) return
    const [x, y] = [at % across, Math.floor(at / across)]
    for (const [a, b] of shapes) {
      const cells = block(x, y, a + gap, b + gap)
      if (!cells) continue
      for (const c of cells) taken[c] = true
      search(at + 1, placed + 1, free - cells.length)
      for (const c of cells) taken[c] = false
    }
    search(at + 1, placed, free - 1) // nothing begins here
  }
  const block = (x: number, y: number, a: number, b: number): number[] | null => {
    if (x + a > across || y + b > up) return null
    const cells: number[] = []
    for (let j = y; j < y + b; j++)
      for (let i = x; i < x + a; i++) {
        if (taken[j * across + i]) return null
        cells.push(j * across + i)
      }
    return cells
  }
  if (across > 0 && up > 0) search(0, 0, taken.length)
  return best
}

/** Most pieces of any stack of rows, by trying every row after every row; pieces are set down one at a time. */
function mostInRows({ w, h, W, H, gap, margin }: Small, mayTurn: boolean): number {
  const inRow = (across: number): number => {
    let count = 0
    for (let right = margin + across; right <= W - margin; right += gap + across) count++
    return count
  }
  const stack = (at: number): number => {
    let best = 0
    for (const [across, tall] of mayTurn ? [[w, h] as const, [h, w] as const] : [[w, h] as const]) {
      if (at + tall > H - margin) continue
      best = Math.max(best, inRow(across) + (inRow(across) > 0 ? stack(at + tall + gap) : 0))
    }
    return best
  }
  return stack(margin)
}

/** Shortest strip, cut after a row and its gap, that gives so many pieces, by trying every stack of rows. */
function shortestStrip({ w, h, W, H, gap, margin }: Small, mayTurn: boolean, pieces: number): number {
  let best = Number.POSITIVE_INFINITY
  const stack = (at: number, left: number): void => {
    if (left <= 0) {
      best = Math.min(best, at, H)
      return
    }
    for (const [across, tall] of mayTurn ? [[w, h] as const, [h, w] as const] : [[w, h] as const]) {
      const count = Math.floor((W - 2 * margin + gap) / (across + gap))
      if (count > 0 && at + tall <= H - margin) stack(at + tall + gap, left - count)
    }
  }
  stack(margin, pieces)
  return best
}

describe("pieces on a sheet against exhaustive search", () => {
  test("pieces that keep their direction: no arrangement of any kind holds more than the rows", () => {
    let compared = 0
    for (const job of smallJobs([0, 1], [0, 1])) {
      expect(fitted(job, false), JSON.stringify(job)).toBe(mostAnywhere(job, false))
      compared++
    }
    expect(compared).toBe(25 * 36 * 4)
  })

  test("pieces that may turn: no stack of rows, in any order of directions, holds more", () => {
    for (const job of smallJobs([0, 1], [0, 1])) {
      expect(fitted(job, true), JSON.stringify(job)).toBe(mostInRows(job, true))
    }
  })

  test("pieces that may turn: arrangements that are no rows seldom hold more, by a piece or two", () => {
    let more = 0
    for (const job of smallJobs([0], [0])) {
      const [rows, anywhere] = [fitted(job, true), mostAnywhere(job, true)]
      expect(rows).toBeLessThanOrEqual(anywhere)
      expect(anywhere - rows).toBeLessThanOrEqual(2)
      if (anywhere > rows) more++
    }
    // counted by this search: the price of rows that a knife can cut
    expect(more).toBe(26) // of 900
    // the pinwheel: four pieces of 2 × 3 around the middle of a 5 × 5 sheet, three in rows
    const pinwheel = { w: 2, h: 3, W: 5, H: 5, gap: 0, margin: 0 }
    expect([fitted(pinwheel, true), mostAnywhere(pinwheel, true)]).toEqual([3, 4])
  })

  test("the strip of the last sheet is as short as any stack of rows makes it", () => {
    let compared = 0
    for (const job of smallJobs([0, 1], [0, 1])) {
      for (const mayTurn of [false, true]) {
        const most = fitted(job, mayTurn)
        for (let pieces = 1; pieces < most; pieces++) {
          const cut = cutSheets({ ...asJob(job, mayTurn), pieces, reprintPpm: 0 })
          expect(cut.lastStripUm, JSON.stringify({ job, mayTurn, pieces })).toBe(
            shortestStrip(job, mayTurn, pieces),
          )
          compared++
        }
      }
    }
    expect(compared).toBeGreaterThan(5_000)
  })
})
