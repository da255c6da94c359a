import { readFileSync } from "node:fs"
import { createRequire } from "node:module"
import type { Browser, Page } from "playwright-core"
import { afterAll, beforeAll, expect, test } from "vitest"
import { prepareZXingModule, readBarcodes } from "zxing-wasm/reader"
import { gtinCheckDigit } from "../../server/domain/gs1.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { labelsRoutes } from "../../server/labels/routes.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { lookupRoutes } from "../../server/lookup/routes.ts"
import { orderPacks } from "../../server/purchasing/service.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { closeDelivery, expectedIn, receive, startDelivery } from "../../server/receiving/service.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { addPack, addSeller, addSupply, packById } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import type { Listening } from "../http/listening.ts"
import { listenWith } from "../http/some-rooms.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"
import { someone, TODAY, testStudio } from "../support/studio.ts"
import { giveCamera, holdUp, labelWith } from "./support/held-up.ts"
import { launch, phone } from "./support/launch.ts"

const checked = (body: string) => body + gtinCheckDigit(body)
/** GS1 prefix 952 is set aside for examples; the others are invented too. */
const gtin = (n: number) => checked(`0952000${String(n).padStart(6, "0")}`)

/** What stands on a pack: how bwip-js, an independent writer, is told to draw it, and the code that is kept of it. */
interface OnPack {
  name: string
  bcid: string
  text: string
  kept: string
  /** what its code says; null: its lot is typed from the label */
  lot: string | null
  /** the book does not know its code yet */
  isNew?: true
}

/** All that the code itself says: item, lot, expiry, in every carrier there is for it. */
const full = (n: number, bcid: string): OnPack => ({
  name: `Thing ${n} by ${bcid}`,
  bcid,
  text:
    bcid === "qrcode"
      ? `https://id.example/01/${gtin(n)}/10/L-${n}?17=280630`
      : `(01)${gtin(n)}(17)280630(10)L-${n}`,
  kept: gtin(n),
  lot: `L-${n}`,
})
/** A number and no more. */
const known = (n: number, bcid: string, text: string, kept = text): OnPack => ({
  name: `Thing ${n} by ${bcid}`,
  bcid,
  text,
  kept,
  lot: null,
})

const CARRIERS = ["gs1-128", "gs1datamatrix", "gs1qrcode", "databarexpanded", "qrcode"]
const FULL = Array.from({ length: 13 }, (_, n) => full(n + 1, CARRIERS[n % CARRIERS.length]!))
const KNOWN: OnPack[] = [
  known(21, "ean13", gtin(21).slice(1), gtin(21)),
  known(22, "ean13", gtin(22).slice(1), gtin(22)),
  known(23, "ean13", gtin(23).slice(1), gtin(23)),
  known(24, "ean8", checked("2345678")),
  known(25, "upca", checked("41234500025")),
  known(26, "upca", checked("41234500026")),
  // the example of a scanner maker's manual: 123456 in number system 0, which stands for 012345000065
  known(27, "upce", "01234565", "012345000065"),
  known(28, "itf14", checked("9952000000028")),
  known(29, "code128", "SHELF-29"),
  known(30, "code128", "PN 77/30-B"),
  known(31, "code39", "GLITTER-31"),
  known(32, "databaromni", `(01)${gtin(32)}`, gtin(32)),
  known(33, "qrcode", "kit 33, see the leaflet"),
  known(34, "datamatrix", "VINYL-34"),
  known(35, "databarlimited", `(01)${gtin(35)}`, gtin(35)),
]
const NEW: OnPack[] = [
  { ...known(41, "ean13", gtin(41).slice(1), gtin(41)), isNew: true },
  { ...full(42, "gs1datamatrix"), isNew: true },
]
const THINGS = [...FULL, ...KNOWN, ...NEW]
/** Its lot came before, with another expiry: one of the two labels was misread. */
const WRONG_LOT = FULL[3]!

const studio = testStudio()
const sellerId = addSeller(studio, { name: "Harbour Supply", leadTimeDays: 4 })
const packIds = new Map<string, number>()
for (const thing of THINGS) {
  const supplyId = addSupply(studio, plainSupply(thing.name))
  const packId = addPack(studio, {
    name: thing.name,
    makerId: null,
    codes: thing.isNew ? [] : [thing.kept],
    contents: [{ supplyId, amount: 100_000, containerCount: 1 }],
    offers: [{ sellerId, priceMicro: 4_500_000 }],
  })
  packIds.set(thing.name, packId)
  orderPacks(studio, someone(), { sellerId, packId, count: 1, expectedOn: TODAY })
}
before()
const { deliveryId } = startDelivery(studio, someone(), { sellerId, receivedOn: TODAY, note: "" }).answer

/** An earlier delivery, which brought the lot of one thing with another expiry date. */
function before(): void {
  const packId = packIds.get(WRONG_LOT.name)!
  const { supplyId } = packById(studio, packId).contents[0]!
  const earlier = startDelivery(studio, someone(), { sellerId: null, receivedOn: TODAY, note: "" }).answer
  receive(studio, someone(), {
    deliveryId: earlier.deliveryId,
    packId,
    purchaseId: null,
    count: 1,
    priceMicro: 4_500_000,
    lots: [{ supplyId, number: WRONG_LOT.lot, madeOn: null, expiresOn: "2028-03-31" }],
  })
  closeDelivery(studio, someone(), earlier.deliveryId)
}

let browser: Browser
let here: Listening
let page: Page
let taps = 0

beforeAll(async () => {
  const wasm = readFileSync(createRequire(import.meta.url).resolve("zxing-wasm/reader/zxing_reader.wasm"))
  prepareZXingModule({ overrides: { wasmBinary: new Uint8Array(wasm).buffer } })
  browser = await launch()
  here = await listenWith(studio, [receivingRoutes, shelfRoutes, labelsRoutes, lookupRoutes, historyRoutes])
  const context = await phone(browser, here.url)
  await giveCamera(context)
  page = await context.newPage()
  page.on("pageerror", (error) => {
    throw error
  })
})
afterAll(async () => {
  await browser?.close()
  await here?.close()
})

const panel = () => page.locator("[data-panel]")
const heading = () => panel().locator("h2").first()
const lines = () => page.locator("[data-lines] .line")

/** Taps a button of the panel. */
async function tap(name: string): Promise<void> {
  taps += 1
  await panel().getByRole("button", { name, exact: true }).click()
}

/** Holds a pack up until the page shows something about it. */
async function scan(thing: OnPack, title: string): Promise<void> {
  await holdUp(page, await labelWith(thing.bcid, thing.text))
  await heading().filter({ hasText: title }).waitFor({ timeout: 30_000 })
  await holdUp(page, null)
}

async function isTakenIn(thing: OnPack, lot: string): Promise<void> {
  await page.locator("[data-notice]", { hasText: `${thing.name} received, lot ${lot}` }).waitFor()
  expect(await panel().isHidden()).toBe(true)
}

test("thirty different things of a shopping list go onto the shelf, scanned with the camera of a phone", async () => {
  let loads = 0
  await page.goto(`/receive?delivery=${deliveryId}`)
  page.on("load", () => loads++)
  await page.locator("[data-video]").waitFor()

  for (const thing of FULL) {
    taps = 0
    await scan(thing, thing.name)
    await tap("Take it in")
    if (thing === WRONG_LOT) {
      // the book knows this lot with another day: nothing is kept, and it is mended on the same panel
      await panel().getByText("is in the book with expiry Fri 31 Mar 2028").first().waitFor()
      await panel().getByRole("textbox", { name: "Expires" }).fill("31 Mar 2028")
      await tap("Take it in")
    } else expect(taps, `${thing.name}: taps`).toBe(1)
    await isTakenIn(thing, thing.lot!)
  }

  for (const thing of KNOWN) {
    taps = 0
    await scan(thing, thing.name)
    taps += 1
    await panel().getByRole("textbox", { name: "Lot number" }).click()
    await page.keyboard.type(`K-${thing.kept.slice(-4)}`)
    await tap("Take it in")
    expect(taps, `${thing.name}: taps beside the lot`).toBe(2)
    await isTakenIn(thing, `K-${thing.kept.slice(-4)}`)
  }

  for (const thing of NEW) {
    await scan(thing, "What is it?")
    // the code knows its lot already, and the list its name
    if (thing.lot !== null) await panel().getByText(thing.lot).waitFor()
    await panel().getByRole("textbox", { name: "Name or maker" }).fill(thing.name)
    await tap("Find")
    await panel().locator(".pick", { hasText: thing.name }).click()
    await heading().filter({ hasText: thing.name }).waitFor()
    if (thing.lot === null) await panel().getByRole("textbox", { name: "Lot number" }).fill("N-41")
    await tap("Take it in")
    await isTakenIn(thing, thing.lot ?? "N-41")
  }

  // one is held up a second time: the page says that it is there, and it is put away
  await scan(FULL[0]!, FULL[0]!.name)
  await panel().getByText("is in this delivery already. Is this another?").waitFor()
  await panel().getByRole("button", { name: "Not now" }).click()

  expect(await lines().count()).toBe(THINGS.length)
  expect(loads, "the page was never left").toBe(0)
  const expected = expectedIn(studio, deliveryId, sellerId)
  expect(expected).toHaveLength(30)
  expect(expected.filter((one) => one.missing > 0 || one.over > 0)).toEqual([])
  expect(verify(studio.file)).toEqual([])
  const kept = onHand(studio.file, "America/Chicago").filter((one) => one.supply === WRONG_LOT.name)
  expect(kept.map((one) => [one.lotNumber, one.useBy])).toEqual([
    [WRONG_LOT.lot, "2028-03-31"],
    [WRONG_LOT.lot, "2028-03-31"],
  ])
}, 900_000)

test("their labels fit on two sheets, and each reads back", async () => {
  const context = await browser.newContext({ baseURL: here.url, viewport: { width: 1100, height: 1300 } })
  const sheet = await context.newPage()
  await sheet.goto(`/labels?delivery=${deliveryId}&format=a4`)
  expect(await sheet.locator(".label-page").count()).toBe(2)
  const read: string[] = []
  for (const one of await sheet.locator(".label-page").all()) {
    const picture = new Blob([new Uint8Array(await one.screenshot())], { type: "image/png" })
    const found = await readBarcodes(picture, {
      formats: ["QRCode"],
      maxNumberOfSymbols: 60,
      tryHarder: true,
    })
    read.push(...found.map((code) => code.text))
  }
  const codes = studio.file
    .allText<{ code: string }>(
      "SELECT c.code FROM container c JOIN receipt_line l ON l.id = c.receipt_line_id WHERE l.delivery_id = ?",
      [deliveryId],
    )
    .map((row) => row.code)
  expect(read.sort()).toEqual(codes.sort())
  expect(codes).toHaveLength(30)
  await context.close()
})

test("a label held up to the camera leads to its container", async () => {
  const { code } = onHand(studio.file, "America/Chicago").at(-1)!
  await holdUp(page, await labelWith("qrcode", code))
  await heading().filter({ hasText: code }).waitFor({ timeout: 30_000 })
  await panel()
    .getByRole("link", { name: `Go to ${code}` })
    .click()
  await page.waitForURL(`**/containers/${code}`)
})
