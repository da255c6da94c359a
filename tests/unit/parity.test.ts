import { Temporal } from "temporal-polyfill"
import { expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { finishBatch, startBatch } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { whatIf } from "../../server/forecast/service.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { todayOf } from "../../server/ledger/studio.ts"
import { someone } from "../support/studio.ts"

test("where the forecast says enough, making succeeds", () => {
  const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
  const file = openStudioFile(":memory:")
  loadDemo(file, now)
  const studio = { file, now: () => now }
  const dueOn = todayOf(studio)
  let made = 0
  for (const { designId, versionId } of designs(studio)) {
    for (const quantity of [1, 2, 5, 9, 14, 30]) {
      const [line] = whatIf(studio, [{ designId, quantity, dueOn }]).asked
      const enough = line!.covered
      if (enough === 0) continue
      const started = startBatch(studio, someone(), { versionId, cups: enough, note: "" })
      const finished = finishBatch(studio, someone(), { batchId: started.answer.batchId, exceptions: [] })
      expect(finished.answer.good).toBe(enough)
      made += 1
      reverse(studio, someone(), finished.actionId)
      reverse(studio, someone(), started.actionId)
    }
  }
  expect(made).toBeGreaterThan(20)
})
