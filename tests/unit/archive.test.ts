import { mkdtempSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { parse } from "csv-parse/sync"
import { strFromU8, strToU8, unzipSync, zipSync } from "fflate"
import Papa from "papaparse"
import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { connectToRead, type StudioFile } from "../../db/file.ts"
import { openStudioFile, SCHEMA_VERSION } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { fileFromArchive } from "../../server/data/archive-in.ts"
import { archiveOf } from "../../server/data/archive-out.ts"
import { tablesOf } from "../../server/data/tables.ts"
import { verify } from "../../server/verify/service.ts"

const folder = mkdtempSync(join(tmpdir(), "lotcup-archive-"))
const from = join(folder, "from.db")
let archive: Uint8Array
let entries: Record<string, Uint8Array>

/** Text that CSV, spreadsheets and careless readers trip over. */
const NASTY = [
  'He said "no",\r\nthen left',
  "=1+1",
  "-12",
  "",
  " spaced ",
  "007",
  "ünïcode 🫙",
  "a,b;c\td",
  "@sum",
  "null",
]

beforeAll(() => {
  const file = openStudioFile(from)
  loadDemo(file, Temporal.Instant.from("2026-12-01T18:00:00Z"))
  for (const [n, text] of NASTY.entries())
    file.runText("INSERT INTO buyer (name, contact) VALUES (?, ?)", [`buyer ${n}`, text])
  file.close()
  archive = packed()
  entries = unzipSync(archive)
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

function packed(options: { forSpreadsheet?: boolean } = {}): Uint8Array {
  const file = connectToRead(from)
  const bytes = Buffer.concat([...archiveOf(file, "2026-12-01T18:00:00Z", options)])
  file.close()
  return bytes
}

function everything(file: StudioFile): Record<string, unknown[]> {
  return Object.fromEntries(
    [...tablesOf(file)].map(([table, columns]) => [
      table,
      file.allText(`SELECT * FROM "${table}" ORDER BY ${columns.map((_column, n) => n + 1).join(", ")}`),
    ]),
  )
}

/** Takes in an archive whose entries were changed, and gives the sentence it is refused with. */
function refusal(change: (all: Record<string, Uint8Array>) => void): string {
  const all = { ...entries }
  change(all)
  const path = join(folder, "refused.db")
  try {
    fileFromArchive(zipSync(all), path)
  } catch (error) {
    expect(() => connectToRead(path)).toThrow()
    return (error as Error).message
  }
  throw new Error("it was taken in")
}

const manifest = (change: object) =>
  strToU8(JSON.stringify({ ...JSON.parse(strFromU8(entries["lotcup.json"]!)), ...change }))

test("out as tables and back in: an equal book, row by row, that agrees with every rule", () => {
  const path = join(folder, "to.db")
  fileFromArchive(archive, path)
  const [one, other] = [connectToRead(from), connectToRead(path)]
  expect(everything(other)).toEqual(everything(one))
  expect(verify(other)).toEqual([])
  one.close()
  other.close()
})

test("each table is CSV as RFC 4180 says: another reader from the registry reads the same texts", () => {
  // papaparse, an independent implementation
  const text = strFromU8(entries["tables/buyer.csv"]!)
  const ours = parse(text) as string[][]
  const theirs = Papa.parse<string[]>(text.trimEnd()).data
  expect(theirs).toEqual(ours)
  expect(theirs.filter((row) => row[1]?.startsWith("buyer ")).map((row) => row[2])).toEqual(NASTY)
  expect(text.split("\r\n").length).toBeGreaterThan(NASTY.length)
})

test("in the form for spreadsheets no text begins like a formula, and numbers stay numbers", () => {
  const safe = unzipSync(packed({ forSpreadsheet: true }))
  const rows = parse(strFromU8(safe["tables/buyer.csv"]!)) as string[][]
  const contacts = rows.filter((row) => row[1]?.startsWith("buyer ")).map((row) => row[2] ?? "")
  expect(contacts.filter((text) => /^[=+\-@\t\r]/.test(text))).toEqual([])
  expect(contacts).toContain("'=1+1")
  expect(strFromU8(safe["tables/movement.csv"]!)).toMatch(/^\d+,\d+,\d+,"use",-\d+,-?\d+/m)
})

describe("an archive that is not one of ours is refused with a sentence, and leaves nothing behind", () => {
  test("not a zip at all", () => {
    expect(() => fileFromArchive(strToU8("hello"), join(folder, "x.db"))).toThrow(/no archive/)
  })
  test("no manifest", () =>
    expect(refusal((all) => delete all["lotcup.json"])).toMatch(/lotcup\.json is not in it/))
  test("a manifest of something else", () =>
    expect(refusal((all) => Object.assign(all, { "lotcup.json": strToU8("{}") }))).toMatch(/something else/))
  test("another version", () =>
    expect(
      refusal((all) =>
        Object.assign(all, { "lotcup.json": manifest({ schemaVersion: SCHEMA_VERSION + 1 }) }),
      ),
    ).toMatch(/version/))
  test.each(["../../etc/passwd", "tables/../x.csv", "/abs.csv", "tables/a.exe"])(
    "a path that leads elsewhere: %s",
    (name) =>
      expect(refusal((all) => Object.assign(all, { [name]: strToU8("x") }))).toMatch(/does not belong/),
  )
  test("a table that Lotcup does not know", () =>
    expect(refusal((all) => Object.assign(all, { "tables/more.csv": strToU8("a\r\n") }))).toMatch(
      /does not know \(more\)/,
    ))
  test("a table that is missing", () =>
    expect(refusal((all) => delete all["tables/mark.csv"])).toMatch(/lacks the table mark/))
  test("other columns", () =>
    expect(refusal((all) => Object.assign(all, { "tables/maker.csv": strToU8('"id","title"\r\n') }))).toMatch(
      /other columns/,
    ))
  test("fewer rows than it says", () =>
    expect(refusal((all) => Object.assign(all, { "tables/maker.csv": strToU8('"id","name"\r\n') }))).toMatch(
      /rows/,
    ))
  test("a row that cannot be", () => {
    const bad = strToU8(
      `"id","name"\r\n${Array.from({ length: makers() }, (_, n) => `${n + 1},""\r\n`).join("")}`,
    )
    expect(refusal((all) => Object.assign(all, { "tables/maker.csv": bad }))).toMatch(/cannot be/)
  })
})

function makers(): number {
  return JSON.parse(strFromU8(entries["lotcup.json"]!)).rows.maker
}
