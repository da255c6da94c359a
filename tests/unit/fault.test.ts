import { Temporal } from "temporal-polyfill"
import { expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { finishBatch, openBatches } from "../../server/batches/service.ts"
import { someone } from "../support/studio.ts"

test("a fault after any statement of finishing a batch leaves the file as before", () => {
  const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
  const file = openStudioFile(":memory:")
  loadDemo(file, now)
  const studio = { file, now: () => now }
  const batchId = openBatches(studio)[0]!.id
  const tables = file
    .allText<{ name: string }>(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'",
    )
    .map(({ name }) => name)
  const counts = () => tables.map((name) => file.firstText(`SELECT count(*) AS n FROM ${name}`))
  const state = () =>
    JSON.stringify([
      counts(),
      file.allText("SELECT * FROM container"),
      file.allText("SELECT * FROM cup"),
      file.allText("SELECT * FROM sqlite_sequence"),
    ])
  const before = state()

  let faults = 0
  for (let after = 1; ; after += 1) {
    let left = after
    file.afterStatement = () => {
      left -= 1
      if (left === 0) throw new Error("the power went")
    }
    try {
      finishBatch(studio, someone(), { batchId, exceptions: [] })
      break
    } catch (error) {
      expect((error as Error).message).toBe("the power went")
      faults += 1
    } finally {
      file.afterStatement = null
    }
    expect(state() === before).toBe(true)
  }
  // as many as the action has statements; a handful would mean that the fault never reached it
  expect(faults).toBeGreaterThan(50)
  expect(openBatches(studio)).toEqual([])
})
