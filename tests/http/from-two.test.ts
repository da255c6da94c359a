import { afterAll, beforeAll, expect, test } from "vitest"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { coatLayer, startBatch } from "../../server/batches/service.ts"
import { openContainer } from "../../server/shelf/service.ts"
import { planningStudio, stock } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio()
const { ids, versionId } = planningStudio(studio)
stock(studio, ids.partA, 400_000, "2026-12-10")
stock(studio, ids.partA, 400_000, "2027-06-30")
stock(studio, ids.partA, 400_000, "2027-06-30")
stock(studio, ids.partB, 400_000)
for (const supply of [ids.lid, ids.blank]) stock(studio, supply, 50)
const codes = studio.file
  .allText<{ code: string }>("SELECT code FROM container WHERE supply_id = ? ORDER BY id", [ids.partA])
  .map(({ code }) => code)
for (const code of codes) openContainer(studio, someone(), code)

let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes])
})
afterAll(() => here.close())

test("a bottle that may have given to a coat says that it is past its day, and since when", async () => {
  const [old = "", fresh = "", other = ""] = codes
  const hints = async (batchId: number) => {
    const { text } = await here.get(`/batches/${batchId}/measured/1`).expect(200)
    return Object.fromEntries(
      [old, fresh, other].map((code) => [
        code,
        new RegExp(`From ${code}</label>.*?<p class="hint"[^>]*>(.*?)</p>`, "s").exec(text)?.[1],
      ]),
    )
  }
  const coat = () => {
    const { batchId } = startBatch(studio, someone(), { versionId, cups: 1, note: "" }).answer
    coatLayer(studio, someone(), { batchId, position: 1 })
    return batchId
  }
  // on its last day it is as good as the others, and taken first
  studio.setNow("2026-12-10")
  const before = coat()
  studio.setNow("2026-12-12")
  const after = coat()
  expect(await hints(after)).toEqual({
    [old]: "open; nothing by the book; past its day (Thu 10 Dec)",
    [fresh]: "10 mL by the book",
    [other]: "open; nothing by the book",
  })
  expect(await hints(before)).toEqual({
    [old]: "10 mL by the book",
    [fresh]: "open; nothing by the book",
    [other]: "open; nothing by the book",
  })
})
