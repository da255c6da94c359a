/**
 * Rounds parts to whole units so that they add up to their sum, which is rounded to the nearest unit (halves away
 * from zero): every part goes down to the unit below, and what is then missing goes, one unit each, to the largest
 * remainders; of equal remainders the first comes first. A part that is whole already stays as it is.
 *
 * @param parts whole numbers, any sign
 * @param unit what is rounded to, above zero: 10 000 for cents, of amounts in millionths
 * @param whole what they must add up to, where their sum was rounded elsewhere: a multiple of `unit` just below or
 *   above that sum; left out: the nearest
 * @returns multiples of `unit`, each the one below or above its part
 * @throws {RangeError} when a number is not a safe integer, the unit not above zero, or the whole no such multiple
 */
export function roundParts(parts: readonly number[], unit: number, whole?: number): number[] {
  needWhole(parts, unit)
  const sum = parts.reduce((all, part) => all + part, 0)
  const goal = whole ?? nearest(sum, unit)
  if (goal % unit !== 0 || Math.abs(goal - sum) >= unit)
    throw new RangeError("the parts add up to another whole")
  const down = parts.map((part) => floorTo(part, unit))
  const missing = (goal - down.reduce((all, part) => all + part, 0)) / unit
  const byRemainder = parts
    .map((part, index) => ({ index, remainder: part - down[index]! }))
    .sort((a, b) => b.remainder - a.remainder || a.index - b.index)
  for (const { index } of byRemainder.slice(0, missing)) down[index]! += unit
  return down
}

export interface RoundedTable {
  cells: number[][]
  /** each the sum of its row's cells */
  rowTotals: number[]
  /** each the sum of its column's cells */
  columnTotals: number[]
  total: number
}

/**
 * Rounds a table to whole units so that rows and columns add up at once: each cell, each total and the sum of all
 * becomes the multiple of `unit` just below or above its exact value, and what is whole already stays as it is.
 *
 * Controlled rounding by alternating cycles: L. H. Cox, "A Constructive Procedure for Unbiased Controlled Rounding",
 * Journal of the American Statistical Association 82 (1987), 520–524; the direction is here not drawn by lot, it is
 * the one that changes less, so that the same table is always rounded in the same way. (Cited from memory; what it
 * promises is tested as properties.)
 *
 * @param cells whole numbers, any sign; rows of one length
 * @throws {RangeError} as `roundParts`, or rows of several lengths
 */
export function roundTable(cells: readonly (readonly number[])[], unit: number): RoundedTable {
  const columns = cells[0]?.length ?? 0
  if (cells.some((row) => row.length !== columns)) throw new RangeError("a table needs rows of one length")
  for (const row of cells) needWhole(row, unit)

  // With its totals, turned round, every row and column sums to zero: a whole number of units. So no row or column
  // has one broken cell alone, and from a broken cell a way leads on until it closes.
  const table = cells.map((row) => [...row, -sumOf(row)])
  table.push(Array.from({ length: columns + 1 }, (_, column) => -sumOf(table.map((row) => row[column]!))))
  for (let cycle = brokenCycle(table, unit); cycle !== null; cycle = brokenCycle(table, unit))
    turn(table, cycle, unit)

  const last = table.pop()!
  return {
    cells: table.map((row) => row.slice(0, columns)),
    rowTotals: table.map((row) => 0 - row[columns]!),
    columnTotals: last.slice(0, columns).map((total) => 0 - total),
    // nothing is 0, not −0
    total: last[columns]! + 0,
  }
}

interface Cell {
  row: number
  column: number
}

/** A way from broken cell to broken cell, along a row and a column by turns, that ends where it began. */
function brokenCycle(table: readonly number[][], unit: number): Cell[] | null {
  const isBroken = (row: number, column: number) => table[row]![column]! % unit !== 0
  const rows = table.map((_, row) => row)
  const columns = (table[0] ?? []).map((_, column) => column)
  const start = rows.find((row) => columns.some((column) => isBroken(row, column)))
  if (start === undefined) return null

  const way: Cell[] = []
  const seenAt = new Map<number, number>()
  let row = start
  let from = -1
  for (;;) {
    // back in a row that was entered before: from there on it is a cycle
    const before = seenAt.get(row)
    if (before !== undefined) return way.slice(before)
    seenAt.set(row, way.length)
    const column = columns.find((one) => one !== from && isBroken(row, one))!
    const next = rows.find((one) => one !== row && isBroken(one, column))!
    way.push({ row, column }, { row: next, column })
    row = next
    from = column
  }
}

/** Moves the cells of a cycle up and down by turns, until the first of them is whole. */
function turn(table: number[][], cycle: readonly Cell[], unit: number): void {
  const above = (cell: Cell) => {
    const value = table[cell.row]![cell.column]!
    return floorTo(value, unit) + unit - value
  }
  const below = (cell: Cell) => {
    const value = table[cell.row]![cell.column]!
    return value - floorTo(value, unit)
  }
  const room = (evenUp: boolean) =>
    Math.min(...cycle.map((cell, index) => ((index % 2 === 0) === evenUp ? above(cell) : below(cell))))
  const [up, down] = [room(true), room(false)]
  const step = up <= down ? up : -down
  cycle.forEach(({ row, column }, index) => {
    table[row]![column]! += index % 2 === 0 ? step : -step
  })
}

function floorTo(value: number, unit: number): number {
  return Math.floor(value / unit) * unit + 0
}

function nearest(value: number, unit: number): number {
  const away = Math.floor((Math.abs(value) + unit / 2) / unit) * unit
  return value < 0 ? 0 - away : away
}

function sumOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0)
}

function needWhole(values: readonly number[], unit: number): void {
  if (!Number.isSafeInteger(unit) || unit <= 0) throw new RangeError(`cannot round to ${unit}`)
  for (const value of values) {
    if (!Number.isSafeInteger(value)) throw new RangeError(`cannot round ${value}: it is no whole number`)
  }
}
