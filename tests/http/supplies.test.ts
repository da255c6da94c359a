import { describe, expect, test } from "vitest"
import { reverse } from "../../server/ledger/reverse.ts"
import { FIRST_SETTINGS, settingsOf } from "../../server/ledger/studio.ts"
import {
  addMaker,
  addSupply,
  makers,
  sellers,
  suppliesList,
  supplyById,
} from "../../server/supplies/service.ts"
import { receiveOne } from "../support/catalogue.ts"
import { someone } from "../support/studio.ts"
import {
  here,
  KEY,
  OTHER_KEY,
  refused,
  SCRIPT,
  SCRIPT_AS_TEXT,
  startAgain,
  studio,
  thing,
  withSetupPages,
} from "./setup-pages.ts"

withSetupPages()

const paintForm = {
  key: KEY,
  name: "Harbor blue",
  kind: "paint",
  baseUnit: "mg",
  minimum: "340 g",
  shelfLife: "24",
  shelfLifeUnit: "months",
  openLife: "",
  openLifeUnit: "never",
  hazards: ["aerosol", "flammable-liquid"],
  density: "",
  leadTimeDays: "",
  hasColour: "on",
  colour: "#1f6f8b",
  note: "Two thin passes",
}

describe("every page", () => {
  const pages = [
    "/setup",
    "/setup/supplies",
    "/setup/supplies/new",
    "/setup/packs",
    "/setup/packs/new",
    "/setup/makers-and-sellers",
    "/setup/resin-systems",
    "/setup/resin-systems/new",
    "/setup/blanks",
    "/setup/blanks/new",
    "/setup/studio",
  ]
  test.each(pages)("%s opens on an empty studio, with one heading", async (path) => {
    const answer = await here.get(path)
    expect(answer.status).toBe(200)
    expect(answer.text.match(/<h1>/g)).toHaveLength(1)
  })

  test.each(["supplies", "packs", "makers", "sellers", "resin-systems", "blanks"])(
    "/setup/%s/:id that is not there, or no number, is “Not here”",
    async (what) => {
      for (const id of ["999", "x", "-1", "1e3", "99999999999999999999"]) {
        expect((await here.get(`/setup/${what}/${id}`)).status).toBe(404)
      }
    },
  )

  test("a form without its key, or from elsewhere, changes nothing", async () => {
    await refused("/setup/makers", { name: "Alder" }, "out of date")
    const elsewhere = await here
      .post("/setup/makers", { key: KEY, name: "Alder" })
      .set("Origin", "http://evil.test")
    expect(elsewhere.status).toBe(403)
    expect(makers(studio)).toEqual([])
  })
})

describe("supplies", () => {
  test("a new one is kept as typed, amounts by their unit, and leads to its own page", async () => {
    const answer = await here.post("/setup/supplies/new", paintForm)
    const [supply] = suppliesList(studio)
    expect(answer.status).toBe(303)
    expect(answer.headers.location).toBe(`/setup/supplies/${supply?.id}`)
    expect(supply).toMatchObject({
      name: "Harbor blue",
      kind: "paint",
      baseUnit: "mg",
      minimumAmount: 340_000,
      shelfLife: { unit: "months", value: 24 },
      openLife: { unit: "never" },
      hazards: ["aerosol", "flammable-liquid"],
      colour: "#1f6f8b",
      note: "Two thin passes",
    })
  })

  test("in US units a bare number is ounces; density comes in g/mL", async () => {
    await startAgain({ units: "us" })
    await here.post("/setup/supplies/new", { ...paintForm, minimum: "12", density: "1,15" })
    // 12 × 28.349523125 g (avoirdupois ounce, NIST Handbook 44 appendix C)
    expect(suppliesList(studio)[0]).toMatchObject({ minimumAmount: 340_194, densityMgPerMl: 1150 })
    const page = await here.get(`/setup/supplies/${suppliesList(studio)[0]?.id}`)
    expect(page.text).toMatch(/name="minimum"[^>]*value="12 oz"/)
  })

  test("its page shows cautions for its hazards, the data sheet always coming first", async () => {
    const id = addSupply(studio, thing("Harbor blue", { hazards: ["aerosol"] }))
    const { text } = await here.get(`/setup/supplies/${id}`)
    expect(text).toContain("never pierce it")
    expect(text).toContain("safety data sheet and your local rules come before anything said here")
    expect(text).toMatch(/value="aerosol" checked/)
  })

  test("a changed one loses the hazards and the colour no longer ticked", async () => {
    const id = addSupply(studio, thing("Harbor blue", { hazards: ["aerosol"], colour: "#1f6f8b" }))
    const { hazards: _none, hasColour: _off, ...form } = paintForm
    const answer = await here.post(`/setup/supplies/${id}`, { ...form, name: "Harbor blue 2" })
    expect(answer.status).toBe(303)
    expect(supplyById(studio, id)).toMatchObject({ name: "Harbor blue 2", hazards: [], colour: null })
  })

  test("a new blank goes on to its profile", async () => {
    const form = { ...paintForm, kind: "blank", baseUnit: "each", minimum: "" }
    const answer = await here.post("/setup/supplies/new", form)
    expect(answer.headers.location).toBe(`/setup/blanks/${suppliesList(studio)[0]?.id}`)
  })

  test.each([
    ["no name", { name: " " }, "Name is missing."],
    ["a name of another", { name: "TAKEN" }, "called “Taken” is already there"],
    ["a kind that is none", { kind: "spaceship" }, "Kind: choose one."],
    ["a unit that is none", { baseUnit: "furlong" }, "Counted: choose one."],
    ["a minimum in the wrong unit", { minimum: "5 mL" }, "counted by weight"],
    ["a minimum below zero", { minimum: "-5 g" }, "cannot be below zero"],
    ["an absurd minimum", { minimum: "9999999999 kg" }, "more than any studio holds"],
    [
      "a number without months or days",
      { shelfLife: "24", shelfLifeUnit: "unknown" },
      "Choose months, days or hours",
    ],
    ["months without a number", { openLifeUnit: "months" }, "Write how many months."],
    ["a life of no time", { shelfLife: "0" }, "whole number from 1"],
    ["half a month", { shelfLife: "1.5" }, "whole number"],
    ["a hazard that is none", { hazards: ["radioactive"] }, "Hazards: choose from the list."],
    ["a density of lead soup", { density: "1150" }, "from 0.1 to 25 g/mL"],
    ["a lead time below zero", { leadTimeDays: "-1" }, "from 0 to 365"],
    ["a colour that is a style", { colour: "red;}" }, "Choose a colour"],
    ["a blank by weight", { kind: "blank" }, "Blanks are counted by the piece."],
  ])("%s is refused with a sentence, and what was typed stays", async (_what, over, sentence) => {
    addSupply(studio, thing("Taken"))
    const answer = await refused("/setup/supplies/new", { ...paintForm, ...over }, sentence)
    expect(answer.text).toContain("Two thin passes")
    expect(suppliesList(studio)).toHaveLength(1)
  })

  test("what it is counted in stays once there are containers, and the page says why", async () => {
    const id = addSupply(studio, thing("Harbor blue"))
    receiveOne(studio, [id], "L1")
    expect((await here.get(`/setup/supplies/${id}`)).text).toContain(
      "That stays, because there are containers of it.",
    )
    const form = { ...paintForm, baseUnit: "uL", minimum: "" }
    await refused(`/setup/supplies/${id}`, form, "must stay counted as it is")
    expect(supplyById(studio, id).baseUnit).toBe("mg")
  })

  test("one that is not there cannot be changed", async () => {
    expect((await here.post("/setup/supplies/999", paintForm)).status).toBe(404)
  })

  test("markup in a name or note is shown as text, on lists too", async () => {
    await here.post("/setup/supplies/new", { ...paintForm, name: SCRIPT, note: "</textarea><script>" })
    for (const path of [
      "/setup/supplies",
      `/setup/supplies/${suppliesList(studio)[0]?.id}`,
      "/setup/packs/new",
    ]) {
      const { text } = await here.get(path)
      expect(text).toContain(SCRIPT_AS_TEXT)
      expect(text).not.toContain("<script>")
    }
  })
})

describe("makers and sellers", () => {
  test("are added from the one page and changed on their own", async () => {
    expect((await here.post("/setup/makers", { key: KEY, name: "Alder Coatings" })).status).toBe(303)
    expect(
      (await here.post("/setup/sellers", { key: OTHER_KEY, name: "North Door", leadTimeDays: "4" })).status,
    ).toBe(303)
    const [maker] = makers(studio)
    const [seller] = sellers(studio)
    await here.post(`/setup/makers/${maker?.id}`, { key: `${KEY}-2`, name: "Alder & Sons" })
    await here.post(`/setup/sellers/${seller?.id}`, {
      key: `${KEY}-3`,
      name: "North Door",
      leadTimeDays: "0",
    })
    expect(makers(studio)).toMatchObject([{ name: "Alder & Sons" }])
    expect(sellers(studio)).toMatchObject([{ name: "North Door", leadTimeDays: 0 }])
    expect((await here.get(`/setup/makers/${maker?.id}`)).text).not.toContain("leadTimeDays")
    expect((await here.get(`/setup/sellers/${seller?.id}`)).text).toMatch(/name="leadTimeDays"[^>]*value="0"/)
  })

  test("a seller's smallest order, shipping and free shipping are kept; an empty field is no such rule", async () => {
    await here.post("/setup/sellers", { key: OTHER_KEY, name: "North Door", leadTimeDays: "4" })
    const [seller] = sellers(studio)
    expect(seller).toMatchObject({ minimumMicro: null, shippingMicro: 0, freeFromMicro: null })
    const terms = { minimum: "25", shipping: "7.50", freeFrom: "$80" }
    const path = `/setup/sellers/${seller?.id}`
    await here.post(path, { key: KEY, name: "North Door", leadTimeDays: "4", ...terms })
    expect(sellers(studio)).toMatchObject([
      { minimumMicro: 25_000_000, shippingMicro: 7_500_000, freeFromMicro: 80_000_000 },
    ])
    expect((await here.get(path)).text).toMatch(/name="freeFrom"[^>]*value="80"/)
    await refused(path, { key: `${KEY}-4`, name: "North Door", leadTimeDays: "4", shipping: "some" }, "some")
  })

  test("a refused maker leaves the seller's form beside it untouched", async () => {
    addMaker(studio, { name: "Alder" })
    const answer = await refused(
      "/setup/makers",
      { key: KEY, _form: "maker", name: "alder" },
      "already there",
    )
    expect(answer.text.match(/aria-invalid/g)).toHaveLength(1)
    expect(answer.text).toMatch(/id="f-maker-name"[^>]*value="alder"/)
    expect(answer.text).toMatch(/id="f-seller-name"[^>]*value=""/)
  })

  test.each([
    ["no name", { name: "" }, "Name is missing."],
    ["days that are none", { leadTimeDays: "soon" }, "Days from order to door must be a whole number"],
    ["a year and more", { leadTimeDays: "400" }, "from 0 to 365"],
    ["a name as long as a page", { name: "x".repeat(2000) }, "too long"],
    ["a line break in the name", { name: "a\nb" }, "cannot be kept"],
  ])("a seller with %s is refused", async (_what, over, sentence) => {
    await refused("/setup/sellers", { key: KEY, name: "North Door", leadTimeDays: "4", ...over }, sentence)
    expect(sellers(studio)).toEqual([])
  })
})

describe("the studio", () => {
  const form = {
    key: KEY,
    name: "Blue Door Cups",
    units: "us",
    currency: "EUR",
    timeZone: "Europe/Vienna",
    labour: "18,50",
    volumeStep: "1 mL",
    massStep: "0.1",
  }

  test("its settings are kept and shown", async () => {
    expect((await here.post("/setup/studio", form)).status).toBe(303)
    expect(settingsOf(studio)).toEqual({
      ...FIRST_SETTINGS,
      name: "Blue Door Cups",
      units: "us",
      currency: "EUR",
      timeZone: "Europe/Vienna",
      labourMicroPerHour: 18_500_000,
      volumeStepUl: 1000,
      massStepMg: 100,
      isDemo: false,
    })
    expect((await here.get("/setup/studio")).text).toContain('value="0.1 g"')
  })

  test.each([
    ["no name", { name: "" }, "Name is missing."],
    ["a zone on Mars", { timeZone: "Mars/Olympus" }, "time zone is not known"],
    ["money that is none", { currency: "ZZZ" }, "currency is not known"],
    ["money by half a code", { currency: "E" }, "currency is not known"],
    ["an hour in dollars where money is euros", { labour: "$18" }, "prices here are in EUR"],
    ["work for less than nothing", { labour: "-5" }, "cannot be below zero"],
    ["a step of nothing", { volumeStep: "0" }, "Zero is no amount"],
    ["a step of the scale in mL", { massStep: "1 mL" }, "counted by weight"],
    ["units of neither", { units: "troy" }, "Units: choose one."],
  ])("%s is refused and the settings stay", async (_what, over, sentence) => {
    const before = settingsOf(studio)
    await refused("/setup/studio", { ...form, ...over }, sentence)
    expect(settingsOf(studio)).toEqual(before)
  })
})

describe("working days and turners", () => {
  const form = {
    key: KEY,
    opens: "8:30",
    workMinPerDay: "300",
    "weekdaysOff[0]": "7",
    "weekdaysOff[1]": "1",
    daysOff: "2026-12-24\n25 Dec 2026",
    turners: "2",
    turnerPlaces: "4",
    shippingDays: "2",
    spareDays: "3",
    serviceLevel: "97,5",
  }

  test("are kept, shown again and undone; the rest of the studio stays", async () => {
    const before = settingsOf(studio)
    expect((await here.post("/setup/planning", form)).status).toBe(303)
    expect(settingsOf(studio)).toEqual({
      ...before,
      opensMin: 510,
      workMinPerDay: 300,
      weekdaysOff: [1, 7],
      daysOff: ["2026-12-24", "2026-12-25"],
      turners: 2,
      turnerPlaces: 4,
      shippingDays: 2,
      spareDays: 3,
      serviceLevelPpm: 975_000,
    })
    const page = (await here.get("/setup/planning")).text
    expect(page).toContain('value="08:30"')
    expect(page).toContain("2026-12-24\n2026-12-25")
    expect(page).toMatch(/value="7" checked/)
    reverse(
      studio,
      someone(),
      Number(studio.file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")?.id),
    )
    expect(settingsOf(studio)).toEqual(before)
  })

  test.each([
    ["a day of 25 hours", { workMinPerDay: "1500" }, "from 1 to 1,440"],
    ["a day past midnight", { opens: "22:00" }, "past midnight"],
    ["no hour", { opens: "nine" }, "like 9:00"],
    ["a week without a working day", { ...everyDayOff() }, "at least one weekday"],
    ["less than no places to turn", { turnerPlaces: "-1" }, "from 0 to 1,000"],
    ["a day that is none", { daysOff: "2026-02-30" }, "2026-02-30"],
    ["to be surer than sure", { serviceLevel: "100" }, "from 50 to 99.99"],
  ])("%s is refused and the settings stay", async (_what, over, sentence) => {
    const before = settingsOf(studio)
    await refused("/setup/planning", { ...form, ...over }, sentence)
    expect(settingsOf(studio)).toEqual(before)
  })
})

function everyDayOff(): Record<string, string> {
  return Object.fromEntries([1, 2, 3, 4, 5, 6, 7].map((day) => [`weekdaysOff[${day - 1}]`, String(day)]))
}
