import type { Browser, Locator, Page } from "playwright-core"
import { afterAll, beforeAll, expect, test } from "vitest"
import type { Studio } from "../../server/ledger/studio.ts"
import { packs } from "../../server/supplies/service.ts"
import type { Listening } from "../http/listening.ts"
import { demoHouse, wholeApp } from "../support/demo-studio.ts"
import { bench, type Drawn, fakeCamera, photoOf } from "./support/fake-camera.ts"
import { launch, phone } from "./support/launch.ts"

/** What comes in the parcel, as it stands on the packs, and what the maker puts in for it. */
const PARCEL = [
  { pack: "Mint, 11 oz can", bcid: "upca", count: 1, lot: "P-2211", expires: "11/2027" },
  { pack: "Holo white, 2 oz jar", bcid: "ean13", count: 2, lot: "G-0417", expires: "" },
  { pack: "Tumble Clear kit, 16 oz", bcid: "qrcode", count: 1, lot: "K-7788", expires: "3 Dec 2027" },
] as const
type Parcel = (typeof PARCEL)[number]

let browser: Browser
let here: Listening
let page: Page

beforeAll(async () => {
  const house = demoHouse()
  here = (await wholeApp(house)).here
  const pictures = [await bench()]
  for (const thing of PARCEL) pictures.push(await photoOf(codeOn(house.studio, thing), { blurSigma: 0.6 }))
  browser = await launch({ y4m: await fakeCamera(pictures) })
  page = await (await phone(browser, here.url)).newPage()
})
afterAll(async () => {
  await browser?.close()
  await here?.close()
})

test("three packs are scanned in from video, a batch is coated from them and finished, and the kit's lot is traced to its cups and back", async () => {
  await beginDelivery("Northgate Craft")
  await scanAndTakeIn()
  const codes = await codesInDelivery()
  for (const code of [...codes.mint, ...codes.holo, ...codes.kit]) await putOnBench(code)

  const batch = await startBatch("Sea glass", 2)
  await page.getByRole("button", { name: "Done: Scuff and wipe" }).click()
  await sees("Done. Scuff and wipe")
  await sees("Next: White base on 2 of 2 cups.")
  await page.getByRole("button", { name: "Finish the batch" }).click()
  await sees("Every cup of this batch is finished.")
  const serials = await page.locator('main a[href^="/cups/"]').allTextContents()
  expect(serials).toHaveLength(2)

  await askAboutFortyCups()

  await goTo("Trace")
  const kitLot = await unfold(/^Tumble Clear B: \d+ lots$/)
  await kitLot.getByRole("link", { name: "K-7788" }).click()
  await headed("Tumble Clear B, lot K-7788")
  await sees("In 2 cups: ")
  expect(await page.locator('main a[href^="/containers/"]').allTextContents()).toEqual([codes.kit[1]])
  expect(await page.locator('main a[href^="/cups/"]').allTextContents()).toEqual(serials)

  await page.getByRole("link", { name: serials[0]! }).click()
  await headed(`Cup ${serials[0]}`)
  await sees("Sea glass, version 1; good.")
  const resin = page.getByRole("list", { name: "The resin on it" })
  await resin.getByRole("link", { name: /Tumble Clear B, lot K-7788/ }).waitFor()
  const sealCoat = await unfold("4. Seal coat")
  expect(await rowOf(sealCoat, "Tumble Clear A")).toMatch(
    new RegExp(`${codes.kit[0]}.*K-7788, Clearwell Coatings, from Northgate Craft, came Tue 1 Dec`),
  )
  expect(await rowOf(sealCoat, "Tumble Clear B")).toMatch(
    new RegExp(`${codes.kit[1]}.*K-7788, Clearwell Coatings, from Northgate Craft, came Tue 1 Dec`),
  )
  expect(await rowOf(sealCoat, "Holo white")).toMatch(/G-0417/)
  const colours = await unfold("3. Colours")
  expect(await rowOf(colours, "Mint")).toMatch(new RegExp(`${codes.mint[0]}.*P-2211`))

  await sealCoat
    .getByRole("row")
    .filter({ hasText: "Tumble Clear B" })
    .getByRole("link", { name: "K-7788" })
    .click()
  await headed("Tumble Clear B, lot K-7788")
  await page.getByRole("link", { name: serials[1]! }).click()
  await headed(`Cup ${serials[1]}`)
  await page.getByRole("link", { name: "Its batch" }).click()
  await headed(batch)
}, 180_000)

/** The code that stands on a pack of the demo, as an independent writer draws it. */
function codeOn(studio: Studio, { pack, bcid }: Parcel): Drawn {
  const kept = packs(studio).find(({ name }) => name === pack)?.codes[0]
  if (kept === undefined) throw new Error(`The demo has no pack ${pack} with a code.`)
  // kept with zeros in front: 12 digits under a UPC-A, 13 under an EAN-13
  return { bcid, text: kept.slice(bcid === "upca" ? 2 : 1) }
}

async function beginDelivery(seller: string): Promise<void> {
  await page.goto("/")
  await goTo("Receive")
  await page.getByRole("group", { name: "Who it is from" }).getByText(seller).click()
  await page.getByRole("button", { name: "Begin scanning" }).click()
  await sees(`From ${seller}, came Tue 1 Dec.`)
}

/** The camera sees one pack after the other, over and over; each is taken in the first time. */
async function scanAndTakeIn(): Promise<void> {
  const waiting = new Map<string, Parcel>(PARCEL.map((thing) => [thing.pack, thing]))
  while (waiting.size > 0) {
    const heading = page.locator("[data-panel] h2").first()
    await heading.waitFor({ timeout: 30_000 })
    const name = (await heading.textContent())!
    const thing = waiting.get(name)
    if (thing === undefined) {
      expect(PARCEL.map(({ pack }) => pack)).toContain(name)
      await page.getByRole("button", { name: "Not now" }).click()
      continue
    }
    await takeIn(thing)
    waiting.delete(name)
    expect(await page.locator(".line").count()).toBe(PARCEL.length - waiting.size)
  }
}

async function takeIn({ pack, count, lot, expires }: Parcel): Promise<void> {
  const panel = page.locator("[data-panel]")
  for (let more = 1; more < count; more++) await panel.getByRole("button", { name: "One more" }).click()
  await panel.getByRole("textbox", { name: "Lot number" }).fill(lot)
  await panel.getByRole("textbox", { name: "Expires" }).fill(expires)
  await panel.getByRole("button", { name: "Take it in", exact: true }).click()
  const times = count === 1 ? "" : `${count} × `
  await page.locator("[data-notice]", { hasText: `${times}${pack} received, lot ${lot}` }).waitFor()
  await page.locator(".line", { hasText: `${times}${pack}` }).waitFor()
}

async function codesInDelivery(): Promise<{ mint: string[]; holo: string[]; kit: string[] }> {
  const line = (name: string) => page.locator(".line", { hasText: name })
  expect(await line("Mint").textContent()).toMatch(/lot P-2211, good until Tue 30 Nov 2027/)
  expect(await line("Tumble Clear kit").textContent()).toMatch(/lot K-7788, good until Fri 3 Dec 2027/)
  const codes = (name: string) => line(name).locator('a[href^="/containers/"]').allTextContents()
  const found = {
    mint: await codes("Mint"),
    holo: await codes("Holo white"),
    kit: await codes("Tumble Clear kit"),
  }
  expect([found.mint.length, found.holo.length, found.kit.length]).toEqual([1, 2, 2])
  return found
}

async function putOnBench(code: string): Promise<void> {
  await goTo("Receive")
  await page.getByRole("link", { name: code }).click()
  await page.getByRole("button", { name: "Put on the bench" }).click()
  await page.locator("main .pill", { hasText: "on the bench" }).waitFor()
}

/** @returns the heading of the batch's page */
async function startBatch(design: string, cups: number): Promise<string> {
  await goTo("Batches")
  await page.getByLabel("Design").selectOption({ label: design })
  await page.getByLabel("How many cups").fill(String(cups))
  await page.getByRole("button", { name: "Start", exact: true }).click()
  await sees(`Next: Scuff and wipe on ${cups} of ${cups} cups.`)
  const heading = (await page.locator("h1").textContent())!
  expect(heading).toMatch(new RegExp(`^${design}, batch \\d+$`))
  return heading
}

async function askAboutFortyCups(): Promise<void> {
  await goTo("Short")
  const question = page.locator("form", { hasText: "See what it makes short" })
  // where nothing is short it stands open
  if (!(await question.isVisible())) await page.getByText("What if I take this one?").click()
  await question.getByLabel("Design").selectOption({ label: "Big adventure (Stepped 40 oz blank)" })
  await question.getByLabel("How many cups").fill("40")
  await question.getByLabel("Due date").fill("2026-12-29")
  await question.getByRole("button", { name: "See what it makes short" }).click()
  await page.getByRole("heading", { name: "With this order: 40 × Big adventure" }).waitFor()
  expect((await page.locator(".lead").textContent())!).toMatch(
    /^\s*(Yes, if you order today|Not all|No): .*for Tue 29 Dec.* ready /s,
  )
  const answer = (await page.locator(".asked").textContent())!
  expect(answer).toMatch(/Because of it you run short of .*Stepped 40 oz blank/)
}

/** By the menu, as a thumb does it: four rooms on the bar, the others under More. */
async function goTo(room: string): Promise<void> {
  const link = page.locator("nav.rooms").getByRole("link", { name: room }).filter({ visible: true })
  if ((await link.count()) === 0) await page.locator("nav.rooms summary").click()
  const to = await link.first().getAttribute("href")
  await link.first().click()
  await page.waitForURL((url) => url.pathname === to)
}

function sees(words: string): Promise<void> {
  return page.locator("main", { hasText: words }).waitFor()
}

function headed(title: string): Promise<void> {
  return page.locator("h1", { hasText: title }).waitFor()
}

/** Taps a fold open. */
async function unfold(summary: string | RegExp): Promise<Locator> {
  const fold = page.locator("details.fold", { has: page.locator("summary").getByText(summary) })
  await fold.locator("summary").first().click()
  return fold
}

async function rowOf(section: Locator, supply: string): Promise<string> {
  return (await section.getByRole("row").filter({ hasText: supply }).textContent())!
}
