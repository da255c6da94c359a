import { afterEach, beforeEach, expect, test } from "vitest"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { countContainer, lowSupplies } from "../../server/shelf/service.ts"
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

test("a pack of sheets says how many there are, and how large the offcut is", async () => {
  const sheet = { widthUm: 304_800, heightUm: 304_800 }
  const vinyl = addOne(studio, { name: "Vinyl", kind: "vinyl", baseUnit: "mm2", sheet })
  const pack = received(vinyl, 929_030)
  expect(await page(pack)).toContain("That is 10 sheets.")
  count(pack, 929_030 - 37_795)
  // 37,795 mm² are 124 mm of a sheet 304.8 mm wide
  expect(await page(pack)).toContain("That is 9 sheets and an offcut of 30.5 cm × 18.1 cm.")
  count(pack, 92_903)
  expect(await page(pack)).toContain("That is 1 sheet.")
})
