import { stringify } from "csv-stringify/sync"
import { strToU8, Zip, ZipDeflate } from "fflate"
import type { StudioFile, Value } from "../../db/file.ts"
import { type Column, tablesOf } from "./tables.ts"

/** What an archive says of itself, as `lotcup.json`. */
export interface Manifest {
  format: "lotcup tables"
  formatVersion: 1
  /** `user_version` of the file: which migrations it had */
  schemaVersion: number
  madeAt: string
  /** rows of each table */
  rows: Record<string, number>
}

const ROWS_AT_ONCE = 10_000

/**
 * Every table of a studio file as CSV (RFC 4180) in one zip archive, piece by piece, so that a file of any size
 * goes out. Text is always quoted and a number never; nothing between two commas is "not known", which CSV itself
 * cannot say. Bytes are written as hexadecimal.
 *
 * `forSpreadsheet`: the second form, in which text that a spreadsheet would take for a formula begins with an
 * apostrophe (OWASP, "CSV Injection"). It is for looking at, and is not taken back in.
 *
 * @param file a connection of its own: all tables are read in one transaction, as they stood at one moment
 * @param madeAt an ISO instant
 */
export function* archiveOf(
  file: StudioFile,
  madeAt: string,
  { forSpreadsheet = false }: { forSpreadsheet?: boolean } = {},
): Generator<Uint8Array> {
  const out: Uint8Array[] = []
  const zip = new Zip((error, chunk) => {
    if (error) throw error
    out.push(chunk)
  })
  file.runText("BEGIN")
  try {
    const rows: Record<string, number> = {}
    for (const [table, columns] of tablesOf(file)) {
      const entry = new ZipDeflate(`tables/${table}.csv`, { level: 6 })
      zip.add(entry)
      rows[table] = 0
      entry.push(
        strToU8(
          line(
            columns.map((column) => column.name),
            forSpreadsheet,
          ),
        ),
      )
      for (const part of partsOf(file, table, columns)) {
        rows[table] += part.length
        entry.push(strToU8(part.map((row) => line(row, forSpreadsheet)).join("")))
        yield* out.splice(0)
      }
      entry.push(new Uint8Array(0), true)
      yield* out.splice(0)
    }
    const manifest: Manifest = {
      format: "lotcup tables",
      formatVersion: 1,
      schemaVersion: versionOf(file),
      madeAt,
      rows,
    }
    const entry = new ZipDeflate("lotcup.json")
    zip.add(entry)
    entry.push(strToU8(`${JSON.stringify(manifest, null, 2)}\n`), true)
    zip.end()
    yield* out.splice(0)
  } finally {
    file.runText("COMMIT")
  }
}

/** Rows of a table in an order of their own, some at a time; bytes as hexadecimal. */
function* partsOf(file: StudioFile, table: string, columns: readonly Column[]): Generator<Value[][]> {
  const list = columns
    .map(({ name, type }) =>
      type === "BLOB" ? `iif("${name}" IS NULL, NULL, hex("${name}")) AS "${name}"` : `"${name}"`,
    )
    .join(", ")
  const everyColumn = columns.map((_column, index) => index + 1).join(", ")
  for (let from = 0; ; from += ROWS_AT_ONCE) {
    const rows = file.allText<Record<string, Value>>(
      `SELECT ${list} FROM "${table}" ORDER BY ${everyColumn} LIMIT ${ROWS_AT_ONCE} OFFSET ?`,
      [from],
    )
    if (rows.length === 0) return
    yield rows.map((row) => columns.map(({ name }) => row[name] ?? null))
    if (rows.length < ROWS_AT_ONCE) return
  }
}

function line(values: readonly Value[], forSpreadsheet: boolean): string {
  return stringify([values], {
    record_delimiter: "windows",
    quoted_string: true,
    escape_formulas: forSpreadsheet,
  })
}

function versionOf(file: StudioFile): number {
  return file.firstText<{ user_version: number }>("PRAGMA user_version")?.user_version ?? 0
}
