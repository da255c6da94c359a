/** What labels are printed on; all in mm. */
export interface Format {
  name: string
  /** one page: a single label, or a sheet of them */
  page: { width: number; height: number }
  label: { width: number; height: number }
  columns: number
  rows: number
  /** where the first label of a sheet begins, and from one to the next between their edges */
  left: number
  top: number
  gapX: number
  gapY: number
}

export const FORMAT_NAMES = ["29x90", "62", "40x30", "a4", "letter"] as const
export type FormatName = (typeof FORMAT_NAMES)[number]

const single = (name: string, width: number, height: number): Format => ({
  name,
  page: { width, height },
  label: { width, height },
  columns: 1,
  rows: 1,
  left: 0,
  top: 0,
  gapX: 0,
  gapY: 0,
})

export const FORMATS: Readonly<Record<FormatName, Format>> = {
  "29x90": single("Single label, 29 × 90 mm", 90, 29),
  "62": single("Roll, 62 mm wide", 62, 40),
  "40x30": single("Small label, 40 × 30 mm", 40, 30),
  a4: {
    name: "A4 sheet, 24 labels of 70 × 37 mm",
    page: { width: 210, height: 297 },
    label: { width: 70, height: 37 },
    columns: 3,
    rows: 8,
    left: 0,
    top: 0.5,
    gapX: 0,
    gapY: 0,
  },
  letter: {
    name: "US Letter sheet, 30 labels of 2⅝ × 1 in",
    page: { width: 215.9, height: 279.4 },
    label: { width: 66.675, height: 25.4 },
    columns: 3,
    rows: 10,
    left: 4.7625,
    top: 12.7,
    gapX: 3.175,
    gapY: 0,
  },
}

/** Labels on one page. */
export function perPage({ columns, rows }: Format): number {
  return columns * rows
}

/**
 * Where each label goes: page by page, row by row, beginning at a place of the first page so that a sheet that was
 * begun is used up.
 *
 * @param start from 1
 */
export function placed<Label>(
  labels: readonly Label[],
  format: Format,
  start: number,
): { label: Label; x: number; y: number }[][] {
  const { columns, left, top, gapX, gapY, label: size } = format
  const pages: { label: Label; x: number; y: number }[][] = []
  for (const [index, label] of labels.entries()) {
    const at = start - 1 + index
    const page = Math.floor(at / perPage(format))
    const onPage = at % perPage(format)
    const x = left + (onPage % columns) * (size.width + gapX)
    const y = top + Math.floor(onPage / columns) * (size.height + gapY)
    pages[page] ??= []
    pages[page].push({ label, x, y })
  }
  return pages.filter((page) => page !== undefined)
}
