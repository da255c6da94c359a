import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { isDeepStrictEqual } from "node:util"
import Database from "better-sqlite3"
import { afterEach, beforeEach, describe, expect, test } from "vitest"
import type { StudioFile } from "../../db/file.ts"
import { openStudioFile, SCHEMA_VERSION } from "../../db/migrate.ts"
import { verify } from "../../server/verify/service.ts"
import { testStudio } from "../support/studio.ts"
import { workedStudio } from "../support/worked-studio.ts"

const FIXTURES = new URL("../support/fixtures/", import.meta.url)
let folder: string
let path: string
const opened: StudioFile[] = []
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "lotcup-migration-"))
  path = join(folder, "studio.db")
  fileOfVersion(1).close()
})
afterEach(() => {
  for (const file of opened.splice(0)) file.close()
  rmSync(folder, { recursive: true })
})

/** The file that was kept of a version. */
function fileOfVersion(version: number): Database.Database {
  rmSync(path, { force: true })
  const old = new Database(path)
  old.pragma("synchronous = OFF")
  // also the pragma that the file begins with does nothing within a transaction
  old.pragma("foreign_keys = OFF")
  old.exec(`BEGIN; ${readFileSync(new URL(`version-${version}.sql`, FIXTURES), "utf8")} COMMIT`)
  return old
}

const open = (at = path) => {
  const file = openStudioFile(at)
  opened.push(file)
  return file
}

test("a file of the first version keeps every row, and a copy of it is kept beside it", () => {
  const before = new Database(path, { readonly: true })
  const tables = before
    .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
    .pluck()
    .all() as string[]
  const rowsOf = (table: string) => before.prepare(`SELECT * FROM ${table}`).all() as object[]
  const old = new Map(tables.map((table) => [table, rowsOf(table)]))
  before.close()
  expect(old.get("order_line")).toHaveLength(3)

  const file = open()
  expect(file.firstText("PRAGMA user_version")).toEqual({ user_version: SCHEMA_VERSION })
  for (const [table, rows] of old) {
    const now = file.allText<Record<string, unknown>>(`SELECT * FROM ${table}`)
    expect(now, table).toHaveLength(rows.length)
    for (const [index, row] of rows.entries()) expect(now[index], table).toMatchObject(row)
  }
  expect(file.allText("PRAGMA foreign_key_check")).toEqual([])
  expect(file.firstText("PRAGMA integrity_check")).toEqual({ integrity_check: "ok" })

  const copy = new Database(`${path}.before-version-2`, { readonly: true })
  expect(copy.pragma("user_version", { simple: true })).toBe(1)
  copy.close()
})

test("a migrated file has the indexes, triggers and rules of a new one", () => {
  const shape = (file: StudioFile) =>
    file.allText<{ type: string; name: string; tbl_name: string }>(
      `SELECT type, name, tbl_name FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%' ORDER BY type, name`,
    )
  expect(shape(open())).toEqual(shape(open(":memory:")))
})

test("its triggers fire: what was written stays, and a used design keeps its layers", () => {
  const file = open()
  for (const table of ["action", "movement", "cup_change", "coat", "mark"]) {
    expect(() => file.runText(`DELETE FROM ${table}`), table).toThrow(/never deleted/)
  }
  expect(() => file.runText("UPDATE container SET amount_left = amount_left + 1")).toThrow(
    /only by a movement/,
  )
  expect(() => file.runText("UPDATE layer SET name = 'x'")).toThrow(/has been used/)
  expect(() => file.runText("DELETE FROM order_line WHERE id = 1")).toThrow(/FOREIGN KEY/)
})

test("orders and layers that go leave their numbers to nobody", () => {
  const file = open()
  const last = file.firstText<{ id: number }>("SELECT max(id) AS id FROM customer_order")!.id
  file.runText("DELETE FROM customer_order WHERE id = ?", [last])
  expect(file.insert("customer_order", { buyer_id: null, state: "draft", taken_on: "2026-12-02" })).toBe(
    last + 1,
  )
  expect(file.allText("SELECT * FROM order_line WHERE order_id = ?", [last])).toEqual([])
})

/** Of the first one's making little is left to try: the tests above have it. */
const VERSIONS = readdirSync(FIXTURES)
  .map((name) => Number(/^version-(\d+)\.sql$/.exec(name)?.[1]))
  .filter((version) => version > 1)
  .sort((a, b) => a - b)

describe("a file of every version that was released", () => {
  test("is kept", () => {
    expect([1, ...VERSIONS]).toEqual(Array.from({ length: SCHEMA_VERSION }, (_, index) => index + 1))
  })

  test("has a row in every table", async () => {
    const studio = testStudio()
    await workedStudio(studio)
    const tables = studio.file.allText<{ name: string }>(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'",
    )
    expect(
      tables.map(({ name }) => name).filter((name) => !studio.file.firstText(`SELECT 1 FROM ${name}`)),
    ).toEqual([])
    studio.file.close()
  })

  test.each(VERSIONS)(
    "of version %i keeps every row, agrees with every rule, and holds to them",
    (version) => {
      rmSync(path)
      const old = new Database(path)
      old.exec(readFileSync(new URL(`version-${version}.sql`, FIXTURES), "utf8"))
      const rowsOf = (table: string) => old.prepare(`SELECT * FROM ${table}`).all() as object[]
      const tables = old
        .prepare("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
        .pluck()
        .all() as string[]
      const before = new Map(tables.map((table) => [table, rowsOf(table)]))
      old.close()

      const file = open()
      expect(file.firstText("PRAGMA user_version")).toEqual({ user_version: SCHEMA_VERSION })
      for (const [table, rows] of before) {
        const now = file.allText<Record<string, unknown>>(`SELECT * FROM ${table}`)
        expect(now.length, table).toBe(rows.length)
        const kept = rows.map((row, index) =>
          Object.fromEntries(Object.keys(row).map((column) => [column, now[index]?.[column]])),
        )
        expect(isDeepStrictEqual(kept, rows), table).toBe(true)
      }
      expect(verify(file)).toEqual([])
      for (const table of ["action", "movement", "cup_change", "coat", "mark"]) {
        expect(() => file.runText(`DELETE FROM ${table}`), table).toThrow(/never deleted/)
      }
      expect(() => file.runText("UPDATE container SET amount_left = amount_left + 1")).toThrow(
        /only by a movement/,
      )
      expect(() => file.runText("UPDATE layer SET name = 'x'")).toThrow(/has been used/)
    },
  )
})
