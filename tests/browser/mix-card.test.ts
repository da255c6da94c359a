import type { Browser, BrowserContext, Page } from "playwright-core"
import { afterAll, beforeAll, beforeEach, expect, test } from "vitest"
import type { Listening } from "../http/listening.ts"
import { demoHouse, wholeApp } from "../support/demo-studio.ts"
import { launch, phone } from "./support/launch.ts"

const house = demoHouse()
let browser: Browser
let here: Listening
let card: string
let context: BrowserContext
let page: Page

beforeAll(async () => {
  here = (await wholeApp(house)).here
  browser = await launch()
  const list = (await here.get("/batches")).text
  const versionId = /value="(\d+)"[^>]*>Harbour night</.exec(list)![1]!
  const key = crypto.randomUUID()
  const answer = await here.post("/batches", { key, versionId, cups: "24" })
  card = `${answer.headers.location}/mix-card`
}, 60_000)
beforeEach(async () => {
  await context?.close()
  context = await phone(browser, here.url)
  page = await context.newPage()
  await page.clock.install()
  // only the test moves it, however long the pages take
  await page.clock.pauseAt(Date.now() + 60_000)
  await page.goto(card)
  await page.locator("summary", { hasText: "Glitter coat" }).click()
})
afterAll(async () => {
  await browser?.close()
  await here?.close()
  house.close()
})

const clock = () => page.locator("[data-clock]:visible").first()
const digits = () => clock().locator("[data-digits]").textContent()
const says = () => clock().locator("[data-says]").textContent()

test("the pot-life clock says stir, coat, soon, and over", async () => {
  const minutes = Number(await clock().getAttribute("data-minutes"))
  expect(minutes).toBeGreaterThan(20)
  expect(await digits()).toBe(`${minutes}:00`)
  await clock().getByRole("button", { name: "A meets B: start" }).click()
  await page.clock.runFor(60_000)
  expect([await digits(), await says()]).toEqual([`${minutes - 1}:00`, "Stir, scraping sides and bottom."])
  await page.clock.runFor(5 * 60_000)
  expect(await says()).toBe("Coat now.")
  await page.clock.runFor((minutes - 6 - 5) * 60_000)
  expect([await digits(), await says()]).toEqual(["5:00", "It thickens soon: finish the cup you are on."])
  await page.clock.runFor(5 * 60_000 + 30_000)
  expect(await digits()).toBe("−0:30")
  expect(await says()).toContain("do not use it any more")
})

test("it goes on while the page is away, and is stopped by hand", async () => {
  const minutes = Number(await clock().getAttribute("data-minutes"))
  await clock().getByRole("button", { name: "A meets B: start" }).click()
  await page.goto("/batches")
  await page.clock.runFor(10 * 60_000)
  await page.goto(card)
  await page.locator("summary", { hasText: "Glitter coat" }).click()
  expect(await digits()).toBe(`${minutes - 10}:00`)
  await clock().getByRole("button", { name: "Stop the clock" }).click()
  expect(await digits()).toBe(`${minutes}:00`)
  await page.reload()
  await page.locator("summary", { hasText: "Glitter coat" }).click()
  expect(await digits()).toBe(`${minutes}:00`)
})

test.each(["A4", "Letter"])("24 cups of the richest design print on one sheet of %s", async (format) => {
  const pdf = await page.pdf({ format, preferCSSPageSize: true })
  expect(pdf.toString("latin1").match(/\/Type\s*\/Page\b/g)).toHaveLength(1)
})
