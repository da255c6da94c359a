import fc from "fast-check"
import { expect, test } from "vitest"
import { finishBatch, startBatch, takeInsteadOf } from "../../server/batches/service.ts"
import { forecast } from "../../server/forecast/service.ts"
import { addSupply, keepResinSubstitutes, keepSubstitutes } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { otherResin, planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
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

test("batches with another resin in place of their own: all can be finished just where the forecast lacks nothing", () => {
  const outcomes = new Set<string>()
  fc.assert(
    fc.property(
      fc.record({
        // mL of each part on the shelf: its own A and B, the other's A and B
        shelf: fc.tuple(
          fc.integer({ min: 20, max: 200 }),
          fc.integer({ min: 20, max: 200 }),
          fc.integer({ min: 20, max: 300 }),
          fc.integer({ min: 20, max: 120 }),
        ),
        batches: fc.array(fc.record({ cups: fc.integer({ min: 1, max: 9 }), takesOther: fc.boolean() }), {
          minLength: 1,
          maxLength: 4,
        }),
      }),
      ({ shelf, batches }) => {
        const studio = testStudio(ROOMY)
        const here = planningStudio(studio)
        const slow = otherResin(studio, here.systemId)
        keepResinSubstitutes(studio, here.systemId, [slow.systemId])
        const parts = [here.ids.partA, here.ids.partB, slow.partA, slow.partB] as const
        for (const [index, id] of parts.entries()) stock(studio, id, shelf[index]! * 1_000)
        stock(studio, here.ids.blank, 40)
        stock(studio, here.ids.lid, 40)
        const started = batches.map(({ cups, takesOther }) => {
          const input = { versionId: here.versionId, cups, note: "" }
          const { batchId } = startBatch(studio, someone(), input).answer
          const choice = { systemId: here.systemId, substituteId: slow.systemId }
          if (takesOther) takeInsteadOf(studio, someone(), { batchId, choice })
          return batchId
        })
        const { shortfalls, needs } = forecast(studio)
        // by hand: 20 mL a cup with nothing lost, its own 1 : 1, the other 3 : 1, all on the measure's marks
        const cups = (other: boolean) =>
          batches.reduce((sum, one) => sum + (one.takesOther === other ? one.cups : 0), 0)
        const wanted = [10 * cups(false), 10 * cups(false), 15 * cups(true), 5 * cups(true)]
        const needed = (supplyId: number) =>
          needs.reduce((sum, need) => sum + (need.supplyId === supplyId ? need.amount : 0), 0)
        expect(parts.map(needed)).toEqual(wanted.map((ml) => ml * 1_000))

        // what a mix cannot be poured from in full is still there, so the sums alone decide
        const lacks = parts.filter((_, index) => wanted[index]! > shelf[index]!)
        expect(shortfalls.map(({ supplyId }) => supplyId).toSorted((a, b) => a - b)).toEqual(
          lacks.toSorted((a, b) => a - b),
        )
        for (const { supplyId, substitutes } of shortfalls) {
          const isOwn = supplyId === here.ids.partA || supplyId === here.ids.partB
          const [a, b] = isOwn ? [2, 3] : [0, 1]
          const left = [shelf[a]! - wanted[a]!, shelf[b]! - wanted[b]!] as const
          const isShort = left[0] < 0 || left[1] < 0
          const mixed = isOwn ? Math.min((left[0] * 4) / 3, left[1] * 4) : Math.min(left[0], left[1]) * 2
          const free = isShort ? 0 : Math.floor(mixed * 1_000 + 1e-6)
          expect(substitutes.map((one) => one.free)).toEqual(free > 0 ? [free] : [])
          if (free > 0) outcomes.add("offered")
        }

        const enough = shortfalls.length === 0
        outcomes.add(enough ? "enough" : "short")
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
  expect([...outcomes].sort()).toEqual(["enough", "offered", "short"])
})
