import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { coatLayer, startBatch } from "../../server/batches/service.ts"
import { addDesign } from "../../server/designs/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { receiveOpening } from "../../server/receiving/service.ts"
import { openContainer } from "../../server/shelf/service.ts"
import { addSupply } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { planningStudio, stock } from "../support/planning-fixtures.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"
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

const paint = addSupply(
  studio,
  plainSupply("Harbour blue", { kind: "paint", baseUnit: "mg", hazards: ["aerosol"] }),
)
const { versionId: sprayed } = addDesign(studio, {
  name: "Plain blue",
  version: {
    blankSupplyId: ids.blank,
    fullCureMin: 60,
    priceMicro: 0,
    layers: [
      {
        kind: "spray",
        name: "Blue",
        handsOnMin: 5,
        turnerMin: 0,
        recoatEarliestMin: 0,
        recoatLatestMin: null,
        band: null,
        uses: [{ how: "per-cup", supplyId: paint, amount: 12_000, sharePpm: 1_000_000 }],
      },
    ],
  },
})
const carton = { supplyId: paint, fullAmount: 300_000, opened: false, expiresOn: "2027-06-30" }
const canOf = (amount: number, priceMicro: number) =>
  receiveOpening(studio, someone(), { ...carton, amount, priceMicro }).answer.containers[0]!.code
const [can1, can2, can3] = [canOf(300_000, 9_000_000), canOf(300_000, 12_000_000), canOf(300_000, 9_000_000)]

let here: Listening
let keys = 0
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, historyRoutes])
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

describe("a coat of two spray cans, each weighed by itself", () => {
  const left = (code: string) =>
    studio.file.firstText<{ mg: number; micro: number }>(
      "SELECT amount_left AS mg, cost_left_micro AS micro FROM container WHERE code = ?",
      [code],
    )!
  const book = () => [can1, can2, can3].map((code) => left(code).mg)
  const coat = (cups: number) => {
    const { batchId } = startBatch(studio, someone(), { versionId: sprayed, cups, note: "" }).answer
    coatLayer(studio, someone(), { batchId, position: 1 })
    return `/batches/${batchId}/measured/1`
  }
  /** The fields of the page as it stands, with the weights of some cans typed. */
  const weigh = async (
    page: string,
    cans: Record<string, [before: string, after: string]>,
    more: Record<string, string> = {},
  ) => {
    const { text } = await here.get(page).expect(200)
    const rows = [...text.matchAll(/name="each\[(\d+)\]\[(\w+)\]" value="([^"]*)"/g)]
    const fields: Record<string, string> = {}
    for (const [, index, field, value] of rows) fields[`each[${index}][${field}]`] = value!
    const codeless = rows.filter(([, , field]) => field === "coatId").at(-1)![1]
    for (const [code, [before, after]] of Object.entries(cans)) {
      const row = rows.find(([, , field, value]) => field === "code" && value === code)?.[1] ?? codeless
      Object.assign(fields, {
        [`each[${row}][code]`]: code,
        [`each[${row}][before]`]: before,
        [`each[${row}][after]`]: after,
      })
    }
    return here.post(page, { key: `from-two-${++keys}`, ...fields, ...more })
  }

  test("each gave what it lost, out of that very can and at its own cost; one undo takes it back", async () => {
    const page = coat(2)
    expect(book()).toEqual([276_000, 300_000, 300_000])
    expect((await here.get(page)).text).toContain("From two of them? Weigh each by itself")
    expect((await weigh(page, { [can1]: ["371.5", "360.0"], [can2]: ["402", "389.8"] })).status).toBe(303)
    // 11.5 g and 12.2 g: 23.7 g in all, where 24 g were planned
    expect(book()).toEqual([288_500, 287_800, 300_000])
    expect(left(can2).micro).toBe(12_000_000 - Math.round((12_000_000 * 12_200) / 300_000))
    expect(studio.file.firstText("SELECT amount, basis FROM coat_actual ORDER BY id DESC LIMIT 1")).toEqual({
      amount: 23_700,
      basis: "weighed",
    })
    expect(verify(studio.file)).toEqual([])
    const id = studio.file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
    await here.post(`/history/${id}/undo`, { key: `from-two-${++keys}`, returnTo: "/" })
    expect(book()).toEqual([276_000, 300_000, 300_000])
  })

  test("one that the page does not list is said by its code; the can of the book that was not weighed gave nothing", async () => {
    const before = book()
    const page = coat(1)
    expect(book()[0]).toBe(before[0]! - 12_000)
    for (let more = 0; more < 4; more += 1) canOf(300_000, 9_000_000)
    const late = canOf(300_000, 9_000_000)
    expect((await here.get(page)).text).not.toContain(`<b class="code">${late}</b>`)
    expect((await weigh(page, { [late.toLowerCase()]: ["400", "391"] })).status).toBe(303)
    expect([...book(), left(late).mg]).toEqual([...before, 291_000])
  })

  test.each([
    ["another supply's", (): string => codes[0]!, ["40", "30"], "holds Clear A, not Harbour blue."],
    ["none that there is", (): string => "K9999", ["40", "30"], "There is no container with the code K9999."],
    ["weighed only before", (): string => can1, ["40", ""], "before and after: both, or neither."],
    ["heavier after than before", (): string => can1, ["30", "40"], "weighs more after than before"],
    ["more than the book's can holds", (): string => can2, ["900", "100"], "does not hold that much more"],
  ] as const)(
    "%s is refused in a sentence, what was typed is kept, and nothing is changed",
    async (_, code, [before, after], says) => {
      const page = coat(1)
      const was = book()
      const answer = await weigh(page, { [code()]: [before, after] })
      expect([answer.status, answer.text.includes(says)], answer.text.slice(0, 3000)).toEqual([422, true])
      expect(answer.text).toContain(`value="${before}"`)
      expect(book()).toEqual(was)
    },
  )

  test("all together and each by itself is one too many", async () => {
    const page = coat(1)
    const { text } = await here.get(page)
    const [, coatId] = /name="weighed\[0\]\[coatId\]" value="(\d+)"/.exec(text)!
    const together = {
      "weighed[0][coatId]": coatId!,
      "weighed[0][supplyId]": String(paint),
      "weighed[0][before]": "50",
      "weighed[0][after]": "40",
    }
    const answer = await weigh(page, { [can1]: ["371.5", "360.0"] }, together)
    expect([answer.status, answer.text.includes("all together and each by itself")]).toEqual([422, true])
  })
})
