import { afterAll, beforeAll, expect, test } from "vitest"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { startBatch } from "../../server/batches/service.ts"
import { addDesign } from "../../server/designs/service.ts"
import { otherResin, planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio(ROOMY)
const known = planningStudio(studio)
const weighed = otherResin(studio, known.systemId, { ratioBasis: "mass", ratioA: 2, ratioB: 1 })
for (const supply of [known.ids.partA, known.ids.partB, weighed.partA, weighed.partB])
  stock(studio, supply, 900_000)
stock(studio, known.ids.blank, 50)

/** A design of one coat, 25 mL mixed for one cup, none of it left in the mixing cup. */
const oneCoatOf = (name: string, resinSystemId: number) =>
  addDesign(studio, {
    name,
    version: {
      blankSupplyId: known.ids.blank,
      fullCureMin: 4_320,
      priceMicro: 0,
      layers: [
        {
          kind: "resin",
          name: "Coat",
          handsOnMin: 10,
          turnerMin: 0,
          recoatEarliestMin: 0,
          recoatLatestMin: null,
          band: null,
          uses: [
            {
              how: "resin-mixed",
              resinSystemId,
              amount: 25_000,
              sharePpm: 1_000_000,
              dripPpm: 0,
              residueUl: 0,
            },
          ],
        },
      ],
    },
  }).versionId

let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes])
})
afterAll(() => here.close())

const batchPage = async (versionId: number, cups: number) => {
  const { batchId } = startBatch(studio, someone(), { versionId, cups, note: "" }).answer
  return (await here.get(`/batches/${batchId}`).expect(200)).text
}

test("a resin mixed by weight says what the scale shows beside what leaves the bottle", async () => {
  const versionId = oneCoatOf("Weighed", weighed.systemId)
  // 3 × 25 mL of 1.1 g/mL on both sides are 82.5 g, 2 : 1: 55 g and 27.5 g
  const one = await batchPage(versionId, 3)
  expect(one).toMatch(/On the scale<\/span> <b class="num">55 g/)
  expect(one).toMatch(/On the scale<\/span> <b class="num">27\.5 g/)
  // four cups take 40 minutes and 5 of stirring, which this mix does not last: two mixes, each with its own amounts
  const two = await batchPage(versionId, 4)
  expect(two).toMatch(/On the scale, in 2 mixes: the mix card has each<\/span> <b class="num">73\.4 g/)
})

test("one mixed by volume and counted by volume says its amount once", async () => {
  expect(await batchPage(oneCoatOf("Measured", known.systemId), 3)).not.toContain("On the scale")
})

test("the mix card says that the minutes of work are those of one cup", async () => {
  // the forecast counts them for each of the cups, so three of them are half an hour
  const cardOf = async (cups: number) => {
    const { batchId } = startBatch(studio, someone(), { versionId: known.versionId, cups, note: "" }).answer
    return (await here.get(`/batches/${batchId}/mix-card`).expect(200)).text
  }
  expect(await cardOf(3)).toContain("3 cups, 10 min of work a cup")
  expect(await cardOf(1)).toContain("1 cup, 10 min of work, ")
})
