import { mkdtempSync, rmSync, writeFileSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import fc from "fast-check"
import Papa from "papaparse"
import { afterAll, expect, test } from "vitest"
import { DELIMITERS, rowsOf, shapeOf } from "../../server/bringing-in/csv-file.ts"
import { Desk } from "../../server/bringing-in/desk.ts"
import { kindNamed } from "../../server/bringing-in/kinds.ts"
import { testStudio } from "../support/studio.ts"

/*
 * Tables written and read by Papa Parse, an independent reader and writer of RFC 4180, against ours.
 */

const folder = mkdtempSync(join(tmpdir(), "lotcup-csv-"))
const path = join(folder, "table.csv")
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Anything a cell may hold; a blank at its end and nothing at all are told apart by no one. */
const cell = fc
  .string({ unit: fc.constantFrom(..."ab1 ,;\t\"'\n\r=+-@é→😀"), maxLength: 12 })
  // two ends of a line in a row stand for the same as one in some writers
  .map((text) => text.replace(/\r\n?/g, "\n"))
  .filter((text) => !/^'[=+\-@\t\r]/.test(text))
const table = fc.integer({ min: 2, max: 6 }).chain((columns) =>
  fc.array(
    fc
      .array(cell, { minLength: columns, maxLength: columns })
      .filter((row) => row.some((one) => one.trim() !== "")),
    { minLength: 1, maxLength: 12 },
  ),
)
const manner = fc.record({
  delimiter: fc.constantFrom(...DELIMITERS),
  newline: fc.constantFrom("\r\n", "\n"),
  quotes: fc.boolean(),
  mark: fc.constantFrom("", "\u{feff}"),
})

test("whatever stands in its cells and however it is written, a table by Papa Parse is read as it was", async () => {
  await fc.assert(
    fc.asyncProperty(table, manner, async (rows, { delimiter, newline, quotes, mark }) => {
      const heads = rows[0]!.map((_, index) => `column ${index}`)
      writeFileSync(path, mark + Papa.unparse([heads, ...rows], { delimiter, newline, quotes }))
      const shape = await shapeOf(path)
      expect([shape.delimiter, shape.heads]).toEqual([delimiter, heads])
      const read: (readonly string[])[] = []
      for await (const { cells } of rowsOf(path, shape)) read.push(cells)
      expect(read).toEqual(rows)
    }),
    { numRuns: 300 },
  )
})

test("the download with what is wrong is read by Papa Parse as the file was, and by us again as the same rows", async () => {
  const studio = testStudio()
  const desk = new Desk(studio)
  let files = 0
  await fc.assert(
    fc.asyncProperty(table, fc.constantFrom(...DELIMITERS), async (rows, delimiter) => {
      files += 1
      const own = join(folder, `own-${files}.csv`)
      const heads = ["Name", "Kind", "Counted by", "d", "e", "f", "g"].slice(0, Math.max(3, rows[0]!.length))
      const wide = rows.map((row) => heads.map((_, index) => row[index] ?? ""))
      writeFileSync(own, Papa.unparse([heads, ...wide], { delimiter }))
      const draft = await desk.take(own, kindNamed("supplies"), null)
      await desk.whenLookedOver(draft.id)
      expect(draft.problems.size).toBeGreaterThan(0)
      let text = ""
      for await (const part of desk.whatIsWrong(draft.id)) text += part
      const { data, errors } = Papa.parse<string[]>(text.replace(/^\u{feff}/u, ""), {
        delimiter,
        skipEmptyLines: true,
      })
      expect(errors).toEqual([])
      expect(data[0]).toEqual([...heads, "What is wrong"])
      // what a spreadsheet would take for a formula has an apostrophe in front
      const harmless = (text: string) => (/^[=+\-@\t\r]/.test(text) ? `'${text}` : text)
      expect(data.slice(1).map((row) => row.slice(0, -1))).toEqual(wide.map((row) => row.map(harmless)))

      const again = join(folder, "again.csv")
      writeFileSync(again, text)
      const read: string[][] = []
      for await (const { cells } of rowsOf(again, await shapeOf(again))) read.push(cells.slice(0, -1))
      expect(read).toEqual(wide)
    }),
    { numRuns: 100 },
  )
})
