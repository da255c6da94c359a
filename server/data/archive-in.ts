import { rmSync } from "node:fs"
import { parse } from "csv-parse/sync"
import { strFromU8, unzipSync } from "fflate"
import { z } from "zod"
import { WHICH_FILE } from "../../db/copies.ts"
import type { StudioFile, Value } from "../../db/file.ts"
import { openStudioFile, renewTriggers, SCHEMA_VERSION, withoutTriggers } from "../../db/migrate.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Column, tablesOf } from "./tables.ts"

/** No studio's tables are larger; an archive that says so is a trap. */
const LARGEST_ENTRY = 512 * 1024 ** 2
const LARGEST_WHOLE = 1024 ** 3

const ManifestForm = z.object({
  format: z.literal("lotcup tables"),
  formatVersion: z.literal(1),
  schemaVersion: z.number().int().positive(),
  rows: z.record(z.string(), z.number().int().min(0)),
})

/**
 * Makes a studio file of an archive's tables at `path`, equal row by row to the one they came from. It is for
 * `House.putBack`, which looks it over like any file from elsewhere.
 *
 * @throws {Refusal} 422, one sentence: not an archive of ours, of another version, too large, a table or column
 *   too many or missing, a row that cannot be; nothing stays at `path` then
 */
export function fileFromArchive(bytes: Uint8Array, path: string): void {
  const entries = unpack(bytes)
  const manifest = manifestOf(entries)
  let file: StudioFile | null = null
  try {
    file = openStudioFile(path)
    fill(file, entries, manifest)
    file.close()
  } catch (error) {
    file?.close()
    for (const more of ["", "-wal", "-shm"]) rmSync(path + more, { force: true })
    if (error instanceof Refusal) throw error
    throw refused(`A row of the archive cannot be in a studio's book (${(error as Error).message}).`, error)
  }
}

/** The archive's files by name: only those that belong in one, and none that is larger than it may be. */
function unpack(bytes: Uint8Array): Map<string, Uint8Array> {
  let whole = 0
  try {
    const files = unzipSync(bytes, {
      filter: ({ name, originalSize }) => {
        if (name !== "lotcup.json" && !/^tables\/[a-z_]{1,40}\.csv$/.test(name)) {
          throw refused(
            `The archive holds something that does not belong in it (${name.slice(0, 60)}). ${WHICH_FILE}`,
          )
        }
        whole += originalSize
        if (originalSize > LARGEST_ENTRY || whole > LARGEST_WHOLE) {
          throw refused("The archive is larger unpacked than any studio's. Choose another.")
        }
        return true
      },
    })
    return new Map(Object.entries(files))
  } catch (error) {
    if (error instanceof Refusal) throw error
    throw refused(`That file is no archive of tables that Lotcup made. ${WHICH_FILE}`, error)
  }
}

function manifestOf(entries: ReadonlyMap<string, Uint8Array>): z.output<typeof ManifestForm> {
  const entry = entries.get("lotcup.json")
  if (!entry)
    throw refused(`That archive is not one that Lotcup made: lotcup.json is not in it. ${WHICH_FILE}`)
  let said: unknown
  try {
    said = JSON.parse(strFromU8(entry))
  } catch (error) {
    throw refused("The archive's lotcup.json cannot be read.", error)
  }
  const manifest = ManifestForm.safeParse(said)
  if (!manifest.success)
    throw refused("That archive is not one that Lotcup made: its lotcup.json says something else.")
  if (manifest.data.schemaVersion !== SCHEMA_VERSION) {
    throw refused(
      `The archive is of version ${manifest.data.schemaVersion} and this Lotcup writes version ${SCHEMA_VERSION}. Take it in with the Lotcup that made it, and bring a copy of its file here instead.`,
    )
  }
  return manifest.data
}

function fill(
  file: StudioFile,
  entries: ReadonlyMap<string, Uint8Array>,
  manifest: z.output<typeof ManifestForm>,
): void {
  const tables = tablesOf(file)
  for (const name of entries.keys()) {
    const table = /^tables\/(.*)\.csv$/.exec(name)?.[1]
    if (table !== undefined && !tables.has(table))
      throw refused(`The archive holds a table that Lotcup does not know (${table}).`)
  }
  withoutTriggers(file, () => {
    for (const [table, columns] of tables) {
      const entry = entries.get(`tables/${table}.csv`)
      if (!entry) throw refused(`The archive lacks the table ${table}.`)
      const rows = readRows(strFromU8(entry), table, columns)
      if (rows.length !== manifest.rows[table]) {
        throw refused(
          `The table ${table} has ${rows.length} rows, and the archive says it should have ${manifest.rows[table]}.`,
        )
      }
      file.runText(`DELETE FROM "${table}"`)
      const text = `INSERT INTO "${table}" (${columns.map(({ name }) => `"${name}"`).join(", ")}) VALUES (${columns
        .map(({ type }) => (type === "BLOB" ? "unhex(?)" : "?"))
        .join(", ")})`
      for (const row of rows) file.runText(text, row)
    }
  })
  renewTriggers(file)
}

function readRows(text: string, table: string, columns: readonly Column[]): Value[][] {
  let records: Value[][]
  try {
    // quoted is text, bare is a number, and nothing at all is not known
    records = parse(text, {
      cast: (value, context) => (context.quoting ? value : value === "" ? null : bareNumber(value)),
    }) as Value[][]
  } catch (error) {
    throw refused(`The table ${table} cannot be read as CSV (${(error as Error).message}).`, error)
  }
  const [header = [], ...rows] = records
  if (header.join() !== columns.map(({ name }) => name).join()) {
    throw refused(`The table ${table} has other columns than this Lotcup writes.`)
  }
  return rows
}

function bareNumber(text: string): number | string {
  return /^-?\d{1,15}$/.test(text) || /^-?\d+\.\d+(e[+-]?\d+)?$/.test(text) ? Number(text) : text
}

function refused(sentence: string, cause?: unknown): Refusal {
  return new Refusal(sentence, { status: 422, cause })
}
