import fc from "fast-check"
import { expect, test } from "vitest"
import { finishBatch, startBatch, takeInsteadOf } from "../../server/batches/service.ts"
import { forecast } from "../../server/forecast/service.ts"
import { addSupply, keepSubstitutes } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"

test("batches with something in place of a supply: all can be finished just where the forecast lacks nothing", () => {
  const outcomes = new Set<boolean>()
  fc.assert(
    fc.property(
      fc.record({
        lids: fc.integer({ min: 0, max: 14 }),
        domes: fc.integer({ min: 0, max: 14 }),
        ratioPpm: fc.constantFrom(1_000_000, 1_500_000, 500_000),
        batches: fc.array(fc.record({ cups: fc.integer({ min: 1, max: 5 }), takesOther: fc.boolean() }), {
          minLength: 1,
          maxLength: 4,
        }),
      }),
      ({ lids, domes, ratioPpm, batches }) => {
        const studio = testStudio(ROOMY)
        const here = planningStudio(studio)
        const dome = addSupply(studio, plainSupply("Dome lids", { kind: "packaging", baseUnit: "each" }))
        keepSubstitutes(studio, here.ids.lid, [{ supplyId: dome, ratioPpm }])
        for (const id of [here.ids.partA, here.ids.partB]) stock(studio, id, 400_000)
        stock(studio, here.ids.blank, 40)
        if (lids > 0) stock(studio, here.ids.lid, lids)
        if (domes > 0) stock(studio, dome, domes)
        const started = batches.map(({ cups, takesOther }) => {
          const input = { versionId: here.versionId, cups, note: "" }
          const { batchId } = startBatch(studio, someone(), input).answer
          const choice = { supplyId: here.ids.lid, substituteId: dome }
          if (takesOther) takeInsteadOf(studio, someone(), { batchId, choice })
          return batchId
        })
        const { shortfalls, needs } = forecast(studio)
        // by hand: whole pieces, rounded up for each batch
        const wanted = (other: boolean) =>
          batches
            .filter((one) => one.takesOther === other)
            .reduce((sum, { cups }) => sum + (other ? Math.ceil((cups * ratioPpm) / 1e6) : cups), 0)
        const needed = (supplyId: number) =>
          needs.reduce((sum, need) => sum + (need.supplyId === supplyId ? need.amount : 0), 0)
        expect([needed(here.ids.lid), needed(dome)]).toEqual([wanted(false), wanted(true)])

        const enough = shortfalls.length === 0
        outcomes.add(enough)
        const finishAll = () => {
          for (const batchId of started) finishBatch(studio, someone(), { batchId, exceptions: [] })
        }
        if (enough) finishAll()
        else expect(finishAll).toThrow(/missing for/)
        expect(verify(studio.file)).toEqual([])
        studio.file.close()
      },
    ),
    { numRuns: 40 },
  )
  expect(outcomes.size).toBe(2)
})
