import { mkdtempSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { afterEach, beforeEach, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { designsRoutes } from "../../server/designs/routes.ts"
import { forecastRoutes } from "../../server/forecast/routes.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { THINGS } from "../../server/ledger/things.ts"
import { ordersRoutes } from "../../server/orders/routes.ts"
import { addOrder, assignCups, orderById, sendCups, setOrderState } from "../../server/orders/service.ts"
import { purchasingRoutes } from "../../server/purchasing/routes.ts"
import { orderPacks } from "../../server/purchasing/service.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { startDelivery } from "../../server/receiving/service.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { suppliesRoutes } from "../../server/supplies/routes.ts"
import { addMaker, suppliesList } from "../../server/supplies/service.ts"
import { finished, planningStudio, stock } from "../support/planning-fixtures.ts"
import { someone, type TestStudio, TODAY, testStudio } from "../support/studio.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

const ROOMS = [
  forecastRoutes,
  ordersRoutes,
  purchasingRoutes,
  receivingRoutes,
  suppliesRoutes,
  designsRoutes,
  shelfRoutes,
  historyRoutes,
]

let folder: string
let studio: TestStudio
let known: ReturnType<typeof planningStudio>
let here: Listening
/** What the forms are about. */
let about: {
  order: number
  line: number
  good: number
  sent: number
  purchase: number
  delivery: number
  maker: number
}

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), "lotcup-once-"))
  studio = testStudio({}, join(folder, "studio.db"))
  known = planningStudio(studio)
  for (const [supply, amount] of [
    [known.ids.partA, 900_000],
    [known.ids.partB, 900_000],
    [known.ids.lid, 50],
    [known.ids.blank, 50],
  ] as const)
    stock(studio, supply, amount)
  const lines = [{ designId: known.designId, quantity: 5, dueOn: "2026-12-20", note: "" }]
  const order = addOrder(studio, someone(), { buyerId: null, state: "planned", note: "", lines }).answer
    .orderId
  const line = orderById(studio, order).lines[0]!.lineId
  const [good, sent] = finished(studio, known.versionId, 2)
  assignCups(studio, someone(), { orderLineId: line, cupIds: [sent!] })
  sendCups(studio, someone(), [sent!])
  const packs = { sellerId: known.near, packId: known.packs.lids, count: 2, expectedOn: "2026-12-04" }
  about = {
    order,
    line,
    good: good!,
    sent: sent!,
    purchase: orderPacks(studio, someone(), packs).answer.purchaseId,
    delivery: startDelivery(studio, someone(), { sellerId: known.near, receivedOn: TODAY, note: "" }).answer
      .deliveryId,
    maker: addMaker(studio, { name: "Alder" }),
  }
  here = await listenWith(studio, ROOMS)
})
afterEach(async () => {
  await here.close()
  studio.file.close()
  rmSync(folder, { recursive: true })
})

/** The program is started again on the same file, the day after. */
async function restart() {
  await here.close()
  studio.file.close()
  studio = { ...studio, file: openStudioFile(studio.file.path) }
  studio.setNow("2026-12-02")
  here = await listenWith(studio, ROOMS)
}

/** Every row that a person edits, and the cups. */
const everything = () =>
  JSON.stringify(
    [...Object.values(THINGS).flatMap((kind) => kind.parts.map((part) => part.table)), "cup"].map((table) => [
      table,
      studio.file.allText(`SELECT * FROM ${table}`),
    ]),
  )
const actions = () => studio.file.allText("SELECT id FROM action").length

type Fields = Record<string, string>
interface Form {
  path: () => string
  fields: () => Fields
  /** other contents, for the same key */
  other: Fields | (() => Fields)
  /** a part of the sentence in the history */
  says: string
}

const orderFields = () => ({
  buyer: "Otis <i>Lark</i>",
  note: "",
  "lines[0][designId]": String(known.designId),
  "lines[0][quantity]": "7",
  "lines[0][dueOn]": "2026-12-24",
  "lines[0][note]": "blue",
})
const FORMS: Record<string, Form> = {
  "taking an order": {
    path: () => "/orders/new",
    fields: () => ({ ...orderFields(), state: "planned" }),
    other: { "lines[0][quantity]": "8" },
    says: "for Otis &lt;i&gt;Lark&lt;/i&gt;: 7 × Sea glass",
  },
  "keeping what was asked about": {
    path: () => "/forecast/keep",
    fields: () => ({
      designId: String(known.designId),
      quantity: "4",
      dueOn: "2026-12-24",
      buyer: "Tess",
      state: "draft",
    }),
    other: { state: "planned" },
    says: "Kept as a draft: order 2 for Tess: 4 × Sea glass",
  },
  "changing an order": {
    path: () => `/orders/${about.order}/change`,
    fields: () => ({ ...orderFields(), "lines[0][lineId]": String(about.line) }),
    other: { note: "late" },
    says: "Changed order 1 for Otis &lt;i&gt;Lark&lt;/i&gt;: 7 × Sea glass",
  },
  "cancelling an order": {
    path: () => `/orders/${about.order}/state`,
    fields: () => ({ state: "cancelled" }),
    other: { state: "done" },
    says: "Cancelled order 1",
  },
  "closing an order": {
    path: () => `/orders/${about.order}/state`,
    fields: () => ({ state: "done" }),
    other: { state: "draft" },
    says: "Closed order 1 as done",
  },
  "putting cups on an order": {
    path: () => `/orders/${about.order}/assign`,
    fields: () => ({ lineId: String(about.line), cupIds: String(about.good) }),
    other: () => ({ cupIds: String(about.sent) }),
    says: "on order 1",
  },
  "a cup that came back": {
    path: () => `/orders/${about.order}/cups`,
    fields: () => ({ what: "return", cupIds: String(about.sent) }),
    other: () => ({ cupIds: String(about.good) }),
    says: "Came back: ",
  },
  "packs ordered": {
    path: () => "/shopping/ordered",
    fields: () => ({
      sellerId: String(known.far),
      "lines[0][packId]": String(known.packs.lids),
      "lines[0][on]": "on",
      "lines[0][count]": "3",
      expectedOn: "2026-12-11",
    }),
    other: { "lines[0][count]": "4" },
    says: "Ordered 3 × Lids, bag of 12 from Far away, expected Fri 11 Dec",
  },
  "packs expected on another day": {
    path: () => `/purchases/${about.purchase}/expected`,
    fields: () => ({ expectedOn: "2026-12-09" }),
    other: { expectedOn: "2026-12-10" },
    says: "now expected Wed 9 Dec",
  },
  "packs not coming": {
    path: () => `/purchases/${about.purchase}/cancel`,
    fields: () => ({}),
    other: {},
    says: "2 × Lids, bag of 12 from Near &amp; Co not coming any more",
  },
  "beginning a delivery from a new seller": {
    path: () => "/receive/deliveries",
    fields: () => ({ sellerId: "", newSeller: "Corner shop", leadTimeDays: "3", receivedOn: TODAY }),
    other: { newSeller: "Other shop" },
    says: "Began the delivery of Tue 1 Dec from Corner shop",
  },
  "finishing a delivery": {
    path: () => `/receive/deliveries/${about.delivery}/close`,
    fields: () => ({}),
    other: {},
    says: "Finished the delivery of Tue 1 Dec from Near &amp; Co",
  },
  "a new maker": {
    path: () => "/setup/makers",
    fields: () => ({ name: "Birch" }),
    other: { name: "Beech" },
    says: "Birch is added to the makers",
  },
  "another name for a maker": {
    path: () => `/setup/makers/${about.maker}`,
    fields: () => ({ name: "Alder & Sons" }),
    other: { name: "Alder" },
    says: "The maker Alder &amp; Sons is changed",
  },
  "a new supply": {
    path: () => "/setup/supplies/new",
    fields: () => supplyFields("Night black", "mL"),
    other: { note: "other" },
    says: "Night black is added to the supplies",
  },
  "a changed supply": {
    path: () => `/setup/supplies/${known.ids.partA}`,
    fields: () => ({ ...supplyFields("Clear A", "mL"), kind: "resin" }),
    other: { note: "other" },
    says: "The supply Clear A is changed",
  },
  "a new pack": {
    path: () => "/setup/packs/new",
    fields: () => packFields("Lid, one"),
    other: { name: "Lid, another" },
    says: "Lid, one is added to the packs",
  },
  "a changed pack": {
    path: () => `/setup/packs/${known.packs.kit}`,
    fields: () => packFields("Clear kit, now lids"),
    other: { name: "Clear kit" },
    says: "The pack Clear kit, now lids is changed",
  },
  "a changed resin system": {
    path: () => `/setup/resin-systems/${known.systemId}`,
    fields: () => ({
      name: "Clear two",
      partASupplyId: String(known.ids.partA),
      partBSupplyId: String(known.ids.partB),
      ratioBasis: "volume",
      ratioA: "2",
      ratioB: "1",
      potLifeMin: "40",
      largestMix: "400 mL",
      mixingMin: "5",
      cupWorkMin: "6",
      recoatEarliestHours: "8",
      recoatLatestHours: "",
      fullCureHours: "72",
    }),
    other: { ratioA: "3" },
    says: "The resin system Clear two is changed",
  },
  "a new blank": {
    path: () => "/setup/blanks/new",
    fields: () => ({ ...blankFields(), name: "Wide blank", minimum: "", leadTimeDays: "", note: "" }),
    other: { name: "Other blank" },
    says: "Wide blank is added to the blanks",
  },
  "another profile of a blank": {
    path: () => `/setup/blanks/${known.ids.blank}`,
    fields: () => blankFields(),
    other: { bareLip: "5" },
    says: "The profile of Slim blank is kept",
  },
  "the studio's settings": {
    path: () => "/setup/studio",
    fields: () => ({
      name: "Blue Door Cups",
      units: "us",
      currency: "EUR",
      timeZone: "America/Chicago",
      labour: "18,50",
      volumeStep: "1 mL",
      massStep: "0.1",
    }),
    other: { labour: "9" },
    says: "The studio&#x27;s settings are kept",
  },
  "working days and turners": {
    path: () => "/setup/planning",
    fields: () => ({
      opens: "08:30",
      workMinPerDay: "300",
      daysOff: "",
      turners: "2",
      turnerPlaces: "8",
      shippingDays: "2",
      spareDays: "1",
      serviceLevel: "95",
    }),
    other: { turnerPlaces: "9" },
    says: "Working days and turners are kept",
  },
}

const supplyFields = (name: string, unit: "mL") => ({
  name,
  kind: "paint",
  baseUnit: unit === "mL" ? "uL" : "mg",
  minimum: "500 mL",
  shelfLife: "",
  shelfLifeUnit: "unknown",
  openLife: "",
  openLifeUnit: "unknown",
  hazards: "aerosol",
  density: "",
  leadTimeDays: "",
  colour: "",
  note: "",
})
const packFields = (name: string) => ({
  name,
  makerId: "",
  "contents[0][supplyId]": String(known.ids.lid),
  "contents[0][amount]": "2",
  "contents[0][containerCount]": "1",
  "codes[0][code]": "HB/6",
  "prices[0][sellerId]": String(known.near),
  "prices[0][price]": "3.50",
})
const blankFields = () => ({
  baseWidth: "80",
  "rings[0][height]": "100",
  "rings[0][width]": "90",
  "rings[1][height]": "150",
  "rings[1][width]": "92",
  bareLip: "8",
  bareBase: "0",
})

describe.each(Object.entries(FORMS))("%s", (_what, form) => {
  test("is done once, also after a restart; other contents for the same key are refused; undone from the notice", async () => {
    const before = everything()
    const had = actions()
    const path = form.path()
    const sent = { ...form.fields(), key: "the-very-form-1" }
    const first = await here.post(path, sent)
    expect(first.status, first.text).toBe(303)
    const after = everything()
    expect(after).not.toBe(before)

    await restart()
    const again = await here.post(path, sent)
    expect(again.status).toBe(303)
    expect(again.headers.location).toBe(first.headers.location)
    expect(everything()).toBe(after)
    expect(actions()).toBe(had + 1)

    const other = typeof form.other === "function" ? form.other() : form.other
    if (Object.keys(other).length > 0) {
      const refused = await here.post(path, { ...sent, ...other })
      expect(refused.status).toBe(409)
      expect(refused.text).toContain("already sent with other contents")
      expect(everything()).toBe(after)
    }

    const page = await here.get(again.headers.location!).set("Cookie", cookiesOf(again))
    expect(page.status).toBe(200)
    const toast = /<div class="toast".*?<\/form>/s.exec(page.text)?.[0] ?? ""
    expect(toast).toContain(form.says)
    expect((await here.get("/history")).text).toContain(form.says)
    const undo = /action="(\/history\/\d+\/undo)"/.exec(toast)?.[1] ?? ""
    const returnTo = /name="returnTo" value="([^"]*)"/.exec(toast)?.[1]?.replaceAll("&#x3D;", "=") ?? ""
    const undone = await here.post(undo, { key: keysIn(toast)[0]!, returnTo })
    expect(undone.status).toBe(303)
    expect(undone.headers.location).toBe(returnTo)
    expect((await here.get(returnTo)).status).toBe(200)
    expect(everything()).toBe(before)
    expect(actions()).toBe(had + 2)

    // the first form once more: it was answered, and stays undone
    expect((await here.post(path, sent)).status).toBe(303)
    expect(everything()).toBe(before)
  })
})

describe("things added while receiving", () => {
  const describing = {
    name: "Ocean blue",
    kind: "paint",
    holds: "400 mL",
    containerCount: "1",
    makerName: "Birch",
    "second[name]": "Ocean foam",
    "second[kind]": "paint",
    "second[holds]": "100 mL",
  }

  test("a thing described with its supplies and maker is added once and undone whole from the history", async () => {
    const before = everything()
    const path = `/receive/new/described?delivery=${about.delivery}&code=NEW-42`
    const sent = { ...describing, key: "described-form-1" }
    const first = await here.post(path, sent)
    expect(first.status, first.text).toBe(303)
    await restart()
    expect((await here.post(path, sent)).headers.location).toBe(first.headers.location)
    expect(suppliesList(studio).map((supply) => supply.name)).toEqual(
      expect.arrayContaining(["Ocean blue", "Ocean foam"]),
    )
    const page = await here.get("/history")
    expect(page.text).toContain("is added to the packs")
    const { id } = studio.file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!
    expect((await here.post(`/history/${id}/undo`, { key: "undo-form-1" })).status).toBe(303)
    expect(everything()).toBe(before)
  })

  test("a code given to a known pack is taken off it again", async () => {
    const before = everything()
    const path = `/receive/new/known?delivery=${about.delivery}&code=NEW-43`
    const sent = { key: "known-form-1", packId: String(known.packs.lids) }
    for (const _time of [1, 2]) expect((await here.post(path, sent)).status).toBe(303)
    expect(everything()).not.toBe(before)
    const { id } = studio.file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!
    await here.post(`/history/${id}/undo`, { key: "undo-form-2" })
    expect(everything()).toBe(before)
  })
})

describe("bad and hostile", () => {
  const refusals: [string, () => string, Fields, number][] = [
    ["a purchase that is not there", () => "/purchases/999/expected", { expectedOn: "2026-12-09" }, 409],
    [
      "a day before it was ordered",
      () => `/purchases/${about.purchase}/expected`,
      { expectedOn: "2026-11-30" },
      422,
    ],
    ["no day", () => `/purchases/${about.purchase}/expected`, { expectedOn: "soon" }, 422],
    ["a purchase by words", () => "/purchases/1%20OR%201/expected", { expectedOn: "2026-12-09" }, 404],
    ["a cup that was not sent", () => `/orders/${about.order}/cups`, { what: "return", cupIds: "1" }, 409],
    ["no cup", () => `/orders/${about.order}/cups`, { what: "return" }, 422],
    [
      "cups by words",
      () => `/orders/${about.order}/cups`,
      { what: "return", cupIds: "1); DROP TABLE cup" },
      422,
    ],
    ["a delivery that is not there", () => "/receive/deliveries/999/close", {}, 404],
    ["a maker that is not there", () => "/setup/makers/999", { name: "Nobody" }, 404],
    ["an order that is not there", () => "/orders/999/state", { state: "done" }, 404],
  ]
  test.each(refusals)(
    "%s: nothing changes, and the key is still good",
    async (_what, path, fields, status) => {
      const before = everything()
      const had = actions()
      const answer = await here.post(path(), { ...fields, key: "refused-form-1" })
      expect(answer.status).toBe(status)
      expect(everything()).toBe(before)
      expect(actions()).toBe(had)
      const good = await here.post(`/orders/${about.order}/state`, { state: "draft", key: "refused-form-1" })
      expect(good.status).toBe(303)
    },
  )

  test("what stands in the way of an undo is said on the history, with no button there", async () => {
    setOrderState(studio, someone(), about.order, "cancelled")
    const taken = studio.file.firstText<{ id: number }>("SELECT id FROM action WHERE kind = 'order'")!.id
    const page = await here.get("/history")
    expect(page.text).not.toContain(`action="/history/${taken}/undo"`)
    expect(page.text).toContain("Undo first: “Cancelled order 1”")
    const forced = await here.post(`/history/${taken}/undo`, { key: "forced-form-1" })
    expect(forced.status).toBe(409)
    expect(orderById(studio, about.order).state).toBe("cancelled")
  })
})

test("a design is kept once, changed in place, and both are undone, also where cups were made by it", async () => {
  const before = everything()
  const fieldsOf = (html: string) => {
    const form = html.slice(html.indexOf("data-editor"))
    const fields: Fields = {}
    for (const [tag, name] of form.matchAll(/<input[^>]* name="([^"]+)"[^>]*>/g))
      fields[name!] = / value="([^"]*)"/.exec(tag!)?.[1] ?? ""
    for (const [, name, options] of form.matchAll(/<select[^>]* name="([^"]+)"[^>]*>(.*?)<\/select>/gs))
      fields[name!] = /<option value="([^"]*)" selected>/.exec(options!)?.[1] ?? ""
    return fields
  }
  const undoOf = async (answer: { headers: Record<string, string> }) => {
    const page = await here.get(answer.headers.location!).set("Cookie", cookiesOf(answer))
    const toast = /<div class="toast".*?<\/form>/s.exec(page.text)![0]
    const returnTo = /name="returnTo" value="([^"]*)"/.exec(toast)![1]!
    const undone = await here.post(/action="([^"]+)"/.exec(toast)![1]!, { key: keysIn(toast)[0]!, returnTo })
    expect(undone.status).toBe(303)
    expect((await here.get(returnTo)).status).toBe(200)
  }
  const draft = fieldsOf((await here.get(`/designs/new?from=${known.versionId}`)).text)
  const sent = { ...draft, name: "Second glass", key: "design-form-1", do: "save" }
  const first = await here.post("/designs/new", sent)
  expect(first.status, first.text).toBe(303)
  await restart()
  const again = await here.post("/designs/new", sent)
  expect(again.headers.location).toBe(first.headers.location)
  expect((await here.post("/designs/new", { ...sent, name: "Third glass" })).status).toBe(409)
  const kept = everything()

  const path = `${first.headers.location}/edit`
  const edited = { ...fieldsOf((await here.get(path)).text), price: "77", "layers[0][name]": "Deep coat" }
  const changed = await here.post(path, { ...edited, key: "design-form-2", do: "save" })
  expect(changed.status, changed.text).toBe(303)
  expect(everything()).not.toBe(kept)
  await undoOf(changed)
  expect(everything()).toBe(kept)
  await undoOf(again)
  expect(everything()).toBe(before)

  const used = `/designs/${known.designId}/edit`
  const next = { ...fieldsOf((await here.get(used)).text), price: "78", key: "design-form-3", do: "save" }
  const another = await here.post(used, next)
  expect(another.status, another.text).toBe(303)
  expect((await here.get("/history")).status).toBe(200)
  await undoOf(another)
  expect(everything()).toBe(before)
})
