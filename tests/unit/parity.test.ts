import { Temporal } from "temporal-polyfill"
import { expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { coatLayer, finishBatch, openBatches, startBatch } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { plusDays } from "../../server/domain/dates.ts"
import { forecast, whatIf } from "../../server/forecast/service.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { settingsOf, todayOf } from "../../server/ledger/studio.ts"
import { addOrder, ordersList, setOrderState } from "../../server/orders/service.ts"
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

test("what is planned day by day can be made day by day: every layer of every job on the day the plan gives it", () => {
  let now = Temporal.Instant.from("2026-12-01T18:00:00Z")
  const file = openStudioFile(":memory:")
  loadDemo(file, now)
  const studio = { file, now: () => now }
  const today = todayOf(studio)
  for (const { orderId } of ordersList(studio, ["planned"])) setOrderState(studio, someone(), orderId, "done")
  const { designId, versionId } = designs(studio)[0]!
  const dueOn = plusDays(today, 25)
  const [asked] = whatIf(studio, [{ designId, quantity: 40, dueOn }]).asked
  const lines = [{ designId, quantity: Math.min(asked!.covered, 18), dueOn, note: "" }]
  addOrder(studio, someone(), { buyerId: null, state: "planned", note: "", lines })
  const { steps, lines: outlooks } = forecast(studio)
  expect(outlooks[0]).toMatchObject({ cups: lines[0]!.quantity, covered: lines[0]!.quantity, late: false })

  // cups that belong to no order are under way
  const [underWay] = openBatches(studio)
  const batchOf = new Map<number, number>()
  const midnight = Temporal.PlainDate.from(today).toZonedDateTime(settingsOf(studio).timeZone)
  for (const step of steps) {
    now = midnight.add({ minutes: step.startMin }).toInstant()
    let batchId = step.lineId === null ? underWay!.id : batchOf.get(step.jobId)
    if (batchId === undefined) {
      batchId = startBatch(studio, someone(), { versionId, cups: step.cups, note: "" }).answer.batchId
      batchOf.set(step.jobId, batchId)
    }
    const coated = coatLayer(studio, someone(), { batchId, position: step.position, scuff: step.scuffs })
    expect(coated.answer.cups).toBe(step.cups)
  }
  expect(batchOf.size).toBeGreaterThan(1)
})
