import type { StudioFile } from "./file.ts"

/** How many things of one sort are remembered for a file, before all are forgotten and remembered anew. */
const MOST_KEPT = 500

/**
 * Remembers what was made of a file's rows and makes it anew only when a row is another: for what every page asks for
 * and a maker changes once a month. The rows are read and compared each time, so nothing has to say that they changed.
 * What is made is shared by all who ask: it must not be changed.
 *
 * @param make from lists of rows, and from what was itself made of rows
 * @param keyOf which of several such things it is; left out: there is one
 *
 * @example
 * const colours = madeOf((rows: readonly { id: number; colour: string }[]) => new Map(rows.map((row) => [row.id, row.colour])))
 * colours(file, file.allText("SELECT id, colour FROM supply"))
 */
export function madeOf<From extends readonly unknown[], Made>(
  make: (...from: From) => Made,
  keyOf: (...from: From) => number = () => 0,
): (file: StudioFile, ...from: From) => Made {
  const files = new WeakMap<StudioFile, Map<number, { from: From; made: Made }>>()
  return (file, ...from) => {
    let kept = files.get(file)
    if (!kept) {
      kept = new Map()
      files.set(file, kept)
    }
    const key = keyOf(...from)
    const known = kept.get(key)
    if (known?.from.every((one, place) => isSame(one, from[place]))) return known.made
    const made = make(...from)
    if (kept.size >= MOST_KEPT) kept.clear()
    kept.set(key, { from, made })
    return made
  }
}

function isSame(one: unknown, other: unknown): boolean {
  if (one === other) return true
  if (!Array.isArray(one) || !Array.isArray(other) || one.length !== other.length) return false
  return one.every((row, place) => isSameRow(row, other[place]))
}

/** Rows of one statement have the same columns. */
function isSameRow(one: Record<string, unknown>, other: Record<string, unknown>): boolean {
  for (const column in one) if (one[column] !== other[column]) return false
  return true
}
