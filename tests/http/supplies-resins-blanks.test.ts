import { beforeEach, describe, expect, test } from "vitest"
import { addSupply, blankOf, resinSystems, suppliesList, supplyById } from "../../server/supplies/service.ts"
import { here, KEY, OTHER_KEY, refused, startAgain, studio, thing, withSetupPages } from "./setup-pages.ts"

withSetupPages()

describe("resin systems", () => {
  let a: number
  let b: number
  beforeEach(() => {
    a = addSupply(studio, thing("Clear A", { kind: "resin", baseUnit: "uL", hazards: ["skin-sensitiser"] }))
    b = addSupply(studio, thing("Clear B", { kind: "hardener", baseUnit: "uL" }))
  })
  const form = () => ({
    key: KEY,
    name: "Clear cast",
    partASupplyId: String(a),
    partBSupplyId: String(b),
    ratioBasis: "volume",
    ratioA: "1",
    ratioB: "0.83",
    potLifeMin: "45",
    largestMix: "500",
    mixingMin: "5",
    cupWorkMin: "10",
    recoatEarliestHours: "4.5",
    recoatLatestHours: "",
    fullCureHours: "72",
  })

  test("hours become minutes, 1 to 0.83 becomes 100 to 83, a bare number is millilitres", async () => {
    expect((await here.post("/setup/resin-systems/new", form())).status).toBe(303)
    expect(resinSystems(studio)).toMatchObject([
      {
        ratioA: 100,
        ratioB: 83,
        largestMixUl: 500_000,
        recoatEarliestMin: 270,
        recoatLatestMin: null,
        fullCureMin: 4320,
      },
    ])
  })

  test("one mixed by weight is put in at one go: with its densities and its largest mix in grams", async () => {
    const weighed = { ratioBasis: "mass", ratioA: "2", ratioB: "1", densityA: "1.1", densityB: "0,98" }
    const answer = await here.post("/setup/resin-systems/new", { ...form(), ...weighed, largestMix: "300 g" })
    expect(answer.status).toBe(303)
    // 200 g of 1.1 g/mL and 100 g of 0.98 g/mL are 181.818 mL and 102.041 mL
    expect(resinSystems(studio)).toMatchObject([{ ratioBasis: "mass", largestMixUl: 283_859 }])
    expect([a, b].map((id) => supplyById(studio, id).densityMgPerMl)).toEqual([1_100, 980])
    expect((await here.get(`/setup/resin-systems/${resinSystems(studio)[0]?.id}`)).text).toContain(
      'value="0.98"',
    )
  })

  test("one mixed by volume takes a weight too; empty densities leave those that are kept", async () => {
    const both = { ...form(), ratioB: "1", densityA: "1.2", densityB: "1" }
    await here.post("/setup/resin-systems/new", { ...both, largestMix: "110 g" })
    // a mL of each is 2.2 g, so 110 g are 100 mL
    expect(resinSystems(studio)).toMatchObject([{ largestMixUl: 100_000 }])
    const id = resinSystems(studio)[0]?.id
    await here.post(`/setup/resin-systems/${id}`, { ...form(), key: OTHER_KEY, densityA: "", densityB: "" })
    expect([a, b].map((id) => supplyById(studio, id).densityMgPerMl)).toEqual([1_200, 1_000])
  })

  test("one changed keeps the ratio as its label writes it", async () => {
    await here.post("/setup/resin-systems/new", form())
    const id = resinSystems(studio)[0]?.id
    await here.post(`/setup/resin-systems/${id}`, {
      ...form(),
      key: OTHER_KEY,
      ratioA: "100",
      ratioB: "50",
      recoatLatestHours: "24",
    })
    expect(resinSystems(studio)).toMatchObject([{ ratioA: 100, ratioB: 50, recoatLatestMin: 1440 }])
    const { text } = await here.get(`/setup/resin-systems/${id}`)
    expect(text).toContain("heats up by itself")
    expect(text).toContain("an allergy that stays for life")
  })

  test.each([
    ["a part of nothing", { ratioB: "0" }, "more than zero parts of A and of B"],
    ["one supply twice", () => ({ partBSupplyId: String(a) }), "must be two supplies"],
    ["a part that is not there", { partASupplyId: "999" }, "Part A: choose a supply from the list."],
    ["by weight without densities", { ratioBasis: "mass" }, "needs the density of Clear A"],
    ["a mix by weight without densities", { largestMix: "500 g" }, "put in the densities of A and B too"],
    ["a mix of nothing known", { largestMix: "a cup" }, "is not an amount"],
    ["a density in another unit", { densityA: "1100" }, "Density of A must be a number from 0.5 to 3 g/mL"],
    ["a cure before the next coat", { fullCureHours: "2" }, "cannot be fully cured before the next coat"],
    ["no pot life", { potLifeMin: "" }, "Pot life must be a whole number"],
    ["stirring past the pot life", { mixingMin: "45" }, "check both times"],
    ["a latest coat before the earliest", { recoatLatestHours: "1" }, "cannot come before the earliest"],
    ["a cure of ages", { fullCureHours: "99999" }, "Full cure must be a number from 0 to 10,000 hours"],
    ["an hour that is none", { recoatEarliestHours: "<b>" }, "Next coat, earliest must be a number"],
  ])("%s is refused", async (_what, over, sentence) => {
    await refused(
      "/setup/resin-systems/new",
      { ...form(), ...(typeof over === "function" ? over() : over) },
      sentence,
    )
    expect(resinSystems(studio)).toEqual([])
  })
})

describe("blanks", () => {
  const form = {
    key: KEY,
    name: "Slim 30",
    baseWidth: "70",
    "rings[0][height]": "240",
    "rings[0][width]": "76 mm",
    "rings[1][height]": "",
    "rings[1][width]": "",
    bareLip: "1 cm",
    bareBase: "3",
    minimum: "12",
    leadTimeDays: "",
    note: "",
  }

  test("a new one shows its side view and its coated area", async () => {
    const answer = await here.post("/setup/blanks/new", form)
    const id = Number(String(answer.headers.location).split("/").at(-1))
    expect(blankOf(studio, id)).toMatchObject({
      rings: [
        { heightUm: 0, diameterUm: 70_000 },
        { heightUm: 240_000, diameterUm: 76_000 },
      ],
      bareLipUm: 10_000,
      bareBaseUm: 3_000,
      coatsBase: false,
    })
    expect(supplyById(studio, id)).toMatchObject({ kind: "blank", baseUnit: "each", minimumAmount: 12 })
    const { text } = await here.get(`/setup/blanks/${id}`)
    // π (35.0375 + 37.875) mm × √(227² + 2.8375²) mm (frustum, any handbook of mathematical tables) = 520.0 cm²
    expect(text).toContain("<dd>520 cm²</dd>")
    expect(text).toContain('<polygon points="35.04,237 37.88,10 -37.88,10 -35.04,237"')
    expect((await here.get("/setup/blanks")).text).toContain("240 mm tall, 70 to 76 mm wide")
  })

  test("in US units lengths are inches and come back as they were typed", async () => {
    await startAgain({ units: "us" })
    const us = {
      ...form,
      baseWidth: "2.75",
      "rings[0][height]": "9.5",
      "rings[0][width]": "3",
      bareLip: "",
      bareBase: "0",
    }
    const answer = await here.post("/setup/blanks/new", us)
    const { text } = await here.get(String(answer.headers.location))
    for (const [name, value] of [
      ["baseWidth", "2.75"],
      ["rings[0][height]", "9.5"],
      ["rings[0][width]", "3"],
    ]) {
      expect(text).toContain(`name="${name}" type="text" inputmode="decimal" value="${value}"`)
    }
  })

  test("a blank that waits for its shape is not refused for its name: it is said where the shape goes", async () => {
    const id = addSupply(studio, thing("Waiting cup", { kind: "blank", baseUnit: "each" }))
    const again = await here.post("/setup/blanks/new", {
      ...form,
      name: "waiting cup",
      key: "waiting-cup-form-1",
    })
    expect(again.status).toBe(422)
    expect(again.text).toContain("Waiting cup is there already, only its shape is not")
    const fromDesign = await here.post(`/setup/blanks/${id}?returnTo=/designs/new`, {
      ...form,
      key: "waiting-cup-form-2",
    })
    expect(fromDesign.headers.location).toBe(`/designs/new?blank=${id}`)
    expect(blankOf(studio, id).rings).toHaveLength(2)
  })

  test("a blank without a profile gets one, and a profile is changed, rings added", async () => {
    const id = addSupply(studio, thing("Bare", { kind: "blank", baseUnit: "each" }))
    expect((await here.get("/setup/blanks")).text).toContain("its shape is not known yet")
    const more = { ...form, "rings[1][height]": "260", "rings[1][width]": "80" }
    expect((await here.post(`/setup/blanks/${id}`, more)).status).toBe(303)
    expect(blankOf(studio, id).rings).toHaveLength(3)
    expect((await here.post(`/setup/blanks/${id}`, { ...form, key: OTHER_KEY })).status).toBe(303)
    expect(blankOf(studio, id).rings).toHaveLength(2)
  })

  test.each([
    ["no rings", { "rings[0][height]": "", "rings[0][width]": "" }, "at least two rings"],
    ["a ring without a width", { "rings[0][width]": "" }, "Write how much there is"],
    [
      "rings that fall",
      { "rings[1][height]": "100", "rings[1][width]": "70" },
      "must be higher than the ring below it",
    ],
    ["a cup two metres tall", { "rings[0][height]": "2 m" }, "over 1 m tall or wide"],
    ["a profile that shrinks to nothing", { bareLip: "24 cm" }, "leave nothing to coat"],
    ["a width in grams", { baseWidth: "70 g" }, "counted by length"],
    ["a name of markup that is taken", { name: "Taken" }, "already there"],
  ])("%s is refused, and no half of it is kept", async (_what, over, sentence) => {
    addSupply(studio, thing("Taken"))
    await refused("/setup/blanks/new", { ...form, ...over }, sentence)
    expect(suppliesList(studio)).toHaveLength(1)
  })

  test("what is no blank has no profile page", async () => {
    const id = addSupply(studio, thing("Harbor blue"))
    expect((await here.get(`/setup/blanks/${id}`)).status).toBe(404)
    expect((await here.post(`/setup/blanks/${id}`, form)).status).toBe(404)
  })
})
