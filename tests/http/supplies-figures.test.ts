import { describe, expect, test } from "vitest"
import {
  addResinSystem,
  addSupply,
  blanks,
  resinSystems,
  suppliesList,
  supplyById,
} from "../../server/supplies/service.ts"
import { here, KEY, refused, studio, thing, withSetupPages } from "./setup-pages.ts"

withSetupPages()

const form = (over: Record<string, string> = {}) => ({
  key: KEY,
  name: "Harbor blue",
  kind: "paint",
  baseUnit: "mg",
  minimum: "",
  shelfLife: "",
  shelfLifeUnit: "never",
  openLife: "",
  openLifeUnit: "never",
  density: "",
  leadTimeDays: "",
  colour: "",
  note: "",
  keptBack: "",
  sheetWidth: "",
  sheetHeight: "",
  rollWidth: "",
  ...over,
})

describe("what a supply says of its containers", () => {
  test("what never comes out of a can, read back as it was typed", async () => {
    await here.post("/setup/supplies/new", form({ keptBack: "12.5 g" })).expect(303)
    const [supply] = suppliesList(studio)
    expect(supply).toMatchObject({ keptBack: 12_500, sheet: null, rollWidthUm: null })
    const { text } = await here.get(`/setup/supplies/${supply!.id}`)
    expect(text).toMatch(/name="keptBack"[^>]*value="12.5 g"/)
    expect(text).not.toContain('name="sheetWidth"')
  })

  test("one sheet's size where it is counted by area, a roll's width where by length", async () => {
    const sheets = { kind: "vinyl", baseUnit: "mm2", sheetWidth: "12 in", sheetHeight: "304.8" }
    await here.post("/setup/supplies/new", form(sheets)).expect(303)
    const [sheet] = suppliesList(studio)
    expect(sheet!.sheet).toEqual({ widthUm: 304_800, heightUm: 304_800 })
    expect((await here.get(`/setup/supplies/${sheet!.id}`)).text).toMatch(
      /name="sheetHeight"[^>]*value="304.8"/,
    )
    const rolls = { name: "Tape", kind: "vinyl", baseUnit: "um", rollWidth: "305 mm" }
    await here.post("/setup/supplies/new", form({ ...rolls, key: KEY.replace("0", "1") })).expect(303)
    expect(suppliesList(studio).find(({ name }) => name === "Tape")).toMatchObject({ rollWidthUm: 305_000 })
  })

  test.each([
    ["half a sheet's size", { baseUnit: "mm2", sheetWidth: "300" }, "Write the sheet&#x27;s height too."],
    ["a sheet of grams", { sheetWidth: "300", sheetHeight: "300" }, "Only something counted by area"],
    ["a roll of grams", { rollWidth: "300" }, "Only something counted by length comes off a roll."],
    ["kept back in millimetres", { keptBack: "12 mm" }, "counted by weight"],
    ["a density nothing has", { density: "26" }, "Density must be a number from 0.1 to 25 g/mL."],
    ["a density of nothing", { density: "0" }, "Density must be a number from 0.1 to 25 g/mL."],
  ])("%s is refused", async (_what, over, sentence) => {
    await refused("/setup/supplies/new", form(over), sentence)
    expect(suppliesList(studio)).toEqual([])
  })

  test("a density nothing has is refused by the service too", () => {
    expect(() => addSupply(studio, thing("Foam", { densityMgPerMl: 99 }))).toThrow(
      "A density lies between 0.1 and 25 g/mL",
    )
  })
})

test("a resin's most pigment is kept in percent, and may be unknown", async () => {
  const part = (name: string) => addSupply(studio, thing(name, { kind: "resin", baseUnit: "uL" }))
  addResinSystem(studio, {
    name: "Clear",
    partASupplyId: part("A"),
    partBSupplyId: part("B"),
    ratioBasis: "volume",
    ratioA: 1,
    ratioB: 1,
    potLifeMin: 45,
    largestMixUl: 400_000,
    mixingMin: 5,
    cupWorkMin: 5,
    recoatEarliestMin: 480,
    recoatLatestMin: null,
    fullCureMin: 4_320,
  })
  const [system] = resinSystems(studio)
  expect(system!.maxPigmentPpm).toBeNull()
  const fields = {
    key: KEY,
    name: "Clear",
    partASupplyId: String(system!.partA.id),
    partBSupplyId: String(system!.partB.id),
    ratioBasis: "volume",
    ratioA: "1",
    ratioB: "1",
    potLifeMin: "45",
    largestMix: "400 mL",
    mixingMin: "5",
    cupWorkMin: "5",
    recoatEarliestHours: "8",
    recoatLatestHours: "",
    fullCureHours: "72",
  }
  const path = `/setup/resin-systems/${system!.id}`
  await refused(path, { ...fields, mostPigment: "101" }, "Most pigment must be a number")
  await here.post(path, { ...fields, mostPigment: "5.5" }).expect(303)
  expect(resinSystems(studio)[0]!.maxPigmentPpm).toBe(55_000)
  expect((await here.get(path)).text).toMatch(/name="mostPigment"[^>]*value="5.5"/)
})

test("a blank coated underneath counts its disc, and cannot stay bare above it", async () => {
  const fields = {
    key: KEY,
    name: "Dipped",
    baseWidth: "80",
    "rings[0][height]": "200",
    "rings[0][width]": "80",
    bareLip: "10",
    bareBase: "0",
    coatsBase: "on",
  }
  await refused(
    "/setup/blanks/new",
    { ...fields, bareBase: "3" },
    "The underside cannot be coated while a band above it stays bare.",
  )
  const answer = await here.post("/setup/blanks/new", fields).expect(303)
  expect(blanks(studio)).toMatchObject([{ coatsBase: true }])
  const { text } = await here.get(answer.headers.location!)
  // π 80 × 190 + π 40² = 527.8 cm²
  expect(text).toContain("<dd>528 cm²</dd>")
  expect(text).toContain("the underside is coated too")
  expect(text).toMatch(/name="coatsBase"[^>]* checked/)
  // half of 52,779 mm², less the disc's 5,027, up a cylinder of π 80 mm around: 85 mm
  expect(text).toMatch(/two thirds of it lie below<\/dt><dd>50 mm, 85 mm, 120 mm/)
  expect(supplyById(studio, blanks(studio)[0]!.supply.id)).toMatchObject({ keptBack: 0 })
})
