import { mkdtempSync, readFileSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import Database from "better-sqlite3"
import { afterEach, beforeEach, expect, test } from "vitest"
import type { StudioFile } from "../../db/file.ts"
import { openStudioFile, SCHEMA_VERSION } from "../../db/migrate.ts"

let folder: string
let path: string
const opened: StudioFile[] = []
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "lotcup-migration-"))
  path = join(folder, "studio.db")
  const old = new Database(path)
  old.exec(readFileSync(new URL("../support/fixtures/version-1.sql", import.meta.url), "utf8"))
  old.close()
})
afterEach(() => {
  for (const file of opened.splice(0)) file.close()
  rmSync(folder, { recursive: true })
})

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
