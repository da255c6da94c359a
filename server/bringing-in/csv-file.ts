import { createReadStream } from "node:fs"
import { setImmediate } from "node:timers/promises"
import { CsvError, parse as parser } from "csv-parse"
import { parse } from "csv-parse/sync"
import { Refusal } from "../domain/refusal.ts"

/** How a file of rows is written: what stands between its cells, and its heads in their order. */
export interface Shape {
  delimiter: Delimiter
  /** as they are written */
  heads: readonly string[]
  /** lines, about as many as rows, for saying how far reading is */
  lines: number
}

/** One row: where it begins in the file, and its cells as they stand there. */
export interface Row {
  /** the row's number as a spreadsheet counts it: the heads are row 1 */
  number: number
  cells: readonly string[]
}

export const DELIMITERS = [",", ";", "\t"] as const
export type Delimiter = (typeof DELIMITERS)[number]

/** Characters of a row; a quote that is never closed would otherwise swallow the rest of the file. */
const LONGEST_ROW = 20_000
const MOST_COLUMNS = 60
/** Rows read before others are answered in between. */
export const ROWS_AT_ONCE = 200

/**
 * Looks at a file: whether all of it is text in UTF-8, what stands between the cells, what the heads are.
 *
 * @throws {Refusal} 422: another kind of file, not UTF-8, no heads
 */
export async function shapeOf(path: string): Promise<Shape> {
  const { text, lines } = await readAsText(path)
  const rows = DELIMITERS.map((delimiter) => ({ delimiter, heads: headsIn(text, delimiter) }))
  // the one that makes the most of the heads
  const best = rows.reduce((most, one) => (one.heads.length > most.heads.length ? one : most))
  if (best.heads.every((head) => head === "")) {
    throw refused("There is nothing in that file. Its first row must name the columns.")
  }
  if (best.heads.length > MOST_COLUMNS) throw refused(`A file has at most ${MOST_COLUMNS} columns.`)
  return { ...best, lines }
}

/**
 * The rows of a file, one after the other, as RFC 4180 has them: quoted cells may hold line breaks, lines end in
 * any way, a mark of UTF-8 in front is passed over, rows with nothing in them too. However long the file is, only
 * some rows are held at a time, and others are answered in between.
 *
 * @throws {Refusal} 422, one sentence with the row: a quote that is not closed, a row that is far too long
 */
export async function* rowsOf(path: string, shape: Shape): AsyncGenerator<Row> {
  const input = createReadStream(path)
  const records = input.pipe(
    parser({
      bom: true,
      delimiter: shape.delimiter,
      relax_column_count: true,
      skip_empty_lines: true,
      max_record_size: LONGEST_ROW,
    }),
  )
  // a file that is gone by now ends the reading, and not the program
  input.on("error", (error) => records.destroy(error))
  let number = 0
  try {
    for await (const cells of records as AsyncIterable<string[]>) {
      number += 1
      if (number === 1) continue
      if (number % ROWS_AT_ONCE === 0) await setImmediate()
      if (cells.every((cell) => cell.trim() === "")) continue
      yield { number, cells: cells.map(asText) }
    }
  } catch (error) {
    if (error instanceof CsvError) throw refused(csvSentence(error, number + 1), error)
    throw (error as NodeJS.ErrnoException).code === "ENOENT" ? refused(GONE, error) : error
  } finally {
    input.destroy()
  }
}

const GONE = "That file is not held here any more. Choose it again."

/** A head as it is compared: letters, digits and single spaces. */
export function headKey(head: string): string {
  return head
    .toLowerCase()
    .replace(/[^\p{L}\p{N}]+/gu, " ")
    .trim()
}

/** What we wrote in front of a text that a spreadsheet would take for a formula is taken off again. */
function asText(cell: string): string {
  return /^'[=+\-@\t\r]/.test(cell) ? cell.slice(1) : cell
}

function headsIn(text: string, delimiter: Delimiter): string[] {
  try {
    const [heads = []] = parse(text, {
      bom: true,
      delimiter,
      to: 1,
      relax_column_count: true,
      skip_empty_lines: true,
      max_record_size: LONGEST_ROW,
    }) as string[][]
    return heads.map((head) => head.trim())
  } catch {
    // heads in quotes of another sort, which the rows will tell
    return []
  }
}

/** Reads a file once from end to end. @returns its beginning, and how many lines it has */
async function readAsText(path: string): Promise<{ text: string; lines: number }> {
  const decoder = new TextDecoder("utf-8", { fatal: true })
  let text = ""
  let lines = 0
  let isFirst = true
  for await (const bytes of createReadStream(path) as AsyncIterable<Buffer>) {
    if (isFirst) refuseOtherKinds(bytes)
    isFirst = false
    if (bytes.includes(0)) throw refused(NO_TEXT)
    for (let at = bytes.indexOf(LINE_END); at >= 0; at = bytes.indexOf(LINE_END, at + 1)) lines += 1
    const part = decodeOrRefuse(decoder, bytes)
    if (text.length < MOST_HEADS) text += part.slice(0, MOST_HEADS)
  }
  return { text, lines }
}

const LINE_END = 10
const MOST_HEADS = 64 * 1024
const NO_TEXT = "That is no file of text. Save your table as CSV (UTF-8), and bring that."

function decodeOrRefuse(decoder: TextDecoder, bytes: Uint8Array): string {
  try {
    return decoder.decode(bytes, { stream: true })
  } catch (error) {
    throw refused(
      "That file is not written in UTF-8, so its letters would be wrong. Save it as CSV (UTF-8), and bring that.",
      error,
    )
  }
}

function refuseOtherKinds(begin: Uint8Array): void {
  const starts = (...bytes: number[]) => bytes.every((byte, index) => begin[index] === byte)
  if (starts(0x50, 0x4b) || starts(0xd0, 0xcf)) {
    throw refused("That is a spreadsheet's own file. Save it there as CSV (UTF-8), and bring that.")
  }
  if (starts(0xff, 0xfe) || starts(0xfe, 0xff)) {
    throw refused("That file is written as UTF-16. Save it as CSV in UTF-8.")
  }
}

function csvSentence(error: CsvError, row: number): string {
  if (error.code === "CSV_MAX_RECORD_SIZE") {
    return `Row ${row} is longer than any row can be: perhaps a quotation mark in it is not closed.`
  }
  return `Row ${row} cannot be read: a quotation mark in it is not closed, or stands where none may. In a cell that holds one, write two, and put the cell in quotation marks.`
}

export function refused(sentence: string, cause?: unknown): Refusal {
  return new Refusal(sentence, { status: 422, cause })
}
