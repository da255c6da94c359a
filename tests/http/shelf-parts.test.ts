import { afterEach, beforeEach, describe, expect, test } from "vitest"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { containerByCode, countContainer, lowSupplies } from "../../server/shelf/service.ts"
import { addOne, receiveSome } from "../support/shelf-fixtures.ts"
import { someone, type TestStudio, TODAY, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

let studio: TestStudio
let here: Listening
beforeEach(async () => {
  studio = testStudio()
  here = await listenWith(studio, [shelfRoutes])
})
afterEach(() => here.close())

const received = (supplyId: number, amount: number) =>
  receiveSome(studio, supplyId, { number: "L1", receivedOn: TODAY }, { amount }).codes[0]!
const count = (code: string, amount: number) =>
  countContainer(studio, someone(), { code, amount, basis: "weighed" })
const page = async (code: string) => (await here.get(`/containers/${code}`).expect(200)).text

test("a spray can says what of it never comes out, and when that is all there is", async () => {
  const paint = addOne(studio, {
    name: "Harbour blue",
    kind: "paint",
    baseUnit: "mg",
    keptBack: 12_000,
    minimumAmount: 10_000,
  })
  const can = received(paint, 312_000)
  expect(await page(can)).toContain("The last 12 g never come out.")
  // 20 g left are 8 g to use: below the minimum of 10 g
  count(can, 20_000)
  expect(lowSupplies(studio)).toMatchObject([{ supply: "Harbour blue", onHand: 8_000 }])
  count(can, 12_000)
  expect(await page(can)).toContain("What is left never comes out, so it is not proposed.")
  expect(lowSupplies(studio)).toMatchObject([{ onHand: 0 }])
})

test("what holds only what never comes out stands apart and last, and is counted as nothing to use", async () => {
  const paint = addOne(studio, { name: "Anchor red", kind: "paint", baseUnit: "mg", keptBack: 12_000 })
  const [can, rest] = [received(paint, 312_000), received(paint, 312_000)]
  const brass = addOne(studio, { name: "Brass", kind: "paint", baseUnit: "mg", keptBack: 12_000 })
  count(rest, 12_000)
  received(addOne(studio, { name: "Zinc", kind: "paint", baseUnit: "mg" }), 100_000)
  count(received(brass, 312_000), 10_000)
  const { text } = await here.get("/shelf").expect(200)
  const order = ["Anchor red", can, "Only what never comes out", rest, "Zinc", "Brass", "used up"]
  const places = order.map((word) => text.indexOf(word, text.indexOf("shelf-supply")))
  expect(places).toEqual(places.toSorted((a, b) => a - b))
  // 300 g of the full can, nothing of the other
  expect(text.replace(/\s+/g, " ")).toContain("Paint · 2 containers · 300 g usable")
})

/** Ten sheets of 12 × 12 in, 304.8 mm: 92,903 mm² each. */
function tenSheets(): string {
  const sheet = { widthUm: 304_800, heightUm: 304_800 }
  return received(addOne(studio, { name: "Vinyl", kind: "vinyl", baseUnit: "mm2", sheet }), 929_030)
}
let keys = 0
const words = (html: string) => html.replace(/<[^>]*>/g, " ").replace(/\s+/g, " ")

test("a pack of sheets says how many there are, and how large the offcut is", async () => {
  const pack = tenSheets()
  expect(await page(pack)).toContain("Full: 10 sheets.")
  count(pack, 929_030 - 37_795)
  // 37,795 mm² are 124 mm of a sheet 304.8 mm wide
  expect(await page(pack)).toContain(
    "9.6 sheets left of 10 sheets. That is 9 sheets and an offcut of 30.5 cm × 18.1 cm.",
  )
  count(pack, 92_903)
  expect(await page(pack)).toContain("1 sheet left of 10 sheets.")
})

test("the shelf shows sheets, and of an offcut its size; their area stands behind it on the pack's own page", async () => {
  const pack = tenSheets()
  count(pack, 929_030 - 37_795)
  const shelf = words((await here.get("/shelf").expect(200)).text)
  expect(shelf).toContain("Vinyl 9.6 sheets")
  expect(shelf).toContain(`${pack} 9.6 sheets of 10 sheets`)
  expect(shelf).not.toMatch(/[cm]m²/)
  // 891,235 mm²
  expect(await page(pack)).toContain("by their area, 8912 cm² here, and no piece")
})

test("sheets are counted and thrown away as sheets, and by their area where that is typed", async () => {
  const pack = tenSheets()
  const left = () => containerByCode(studio, pack).amountLeft
  const send = async (what: string, fields: Record<string, string>) => {
    const answer = await here.post(`/containers/${pack}/${what}`, {
      key: `sheets-key-${++keys}`,
      ...fields,
    })
    return [answer.status, left()]
  }
  expect(await page(pack)).toContain("How many sheets there are")
  expect(await send("count", { amount: "7" })).toEqual([303, 7 * 92_903])
  expect(await send("count", { amount: "6.5 sheets" })).toEqual([303, 603_870])
  expect(await send("write-off", { why: "Damaged", amount: "1 sheet" })).toEqual([303, 603_870 - 92_903])
  expect(await send("count", { amount: "600 cm²" })).toEqual([303, 60_000])
  expect(await send("count", { amount: "600" })).toEqual([422, 60_000])
  expect(await send("count", { amount: "0" })).toEqual([303, 0])
})

describe("what is offered to go from one into another", () => {
  test.each([
    [
      "resin is poured",
      { kind: "resin", baseUnit: "uL" },
      ["Top up from another", "Decant into a new bottle"],
    ],
    [
      "glitter is poured",
      { kind: "glitter", baseUnit: "mg" },
      ["Top up from another", "Decant into a new jar"],
    ],
    [
      "gloves are put together and split",
      { kind: "consumable", baseUnit: "each" },
      ["Put together with another", "Split off into a new box"],
    ],
    ["a spray can stays shut", { kind: "paint", baseUnit: "mg", hazards: ["aerosol"] }, []],
    ["sheets are cut", { kind: "vinyl", baseUnit: "mm2" }, []],
  ] as const)("%s", async (_, thing, offered) => {
    const text = await page(
      received(
        addOne(studio, { ...thing, hazards: "hazards" in thing ? [...thing.hazards] : [], name: "It" }),
        100_000,
      ),
    )
    const folds = [...text.matchAll(/<summary>([^<]*)<\/summary>/g)].map(([, words = ""]) => words)
    expect(folds.filter((words) => /another|into/.test(words))).toEqual(offered)
    expect(text.includes("Split: ")).toBe(offered.length > 0)
    expect(text).not.toContain(offered[1]?.endsWith("bottle") ? "new jar" : "new bottle")
  })

  test("what was done is said as it is done", async () => {
    const gloves = addOne(studio, { name: "Gloves", kind: "consumable", baseUnit: "each" })
    const [box, other] = [received(gloves, 100), received(gloves, 100)]
    const summary = () =>
      studio.file.firstText<{ summary: string }>("SELECT summary FROM action ORDER BY id DESC")?.summary
    await here.post(`/containers/${box}/decant`, { key: "split-key-1", amount: "20" }).expect(303)
    expect(summary()).toMatch(new RegExp(`^Split 20 from ${box} \\(Gloves\\) into the new box K\\w+$`))
    await here.post(`/containers/${box}/top-up`, { key: "put-key-1", from: other, amount: "5" }).expect(303)
    expect(summary()).toBe(`Put 5 from ${other} together with ${box} (Gloves)`)
  })
})
