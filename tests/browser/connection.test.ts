import type { Browser, BrowserContext, Page } from "playwright-core"
import { afterAll, beforeAll, beforeEach, expect, test } from "vitest"
import { gtinCheckDigit } from "../../server/domain/gs1.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { closeDelivery } from "../../server/receiving/service.ts"
import type { Listening } from "../http/listening.ts"
import { listenWith } from "../http/some-rooms.ts"
import { bottleWithCode, deliveryFrom } from "../support/receiving-fixtures.ts"
import { someone, type TestStudio, testStudio } from "../support/studio.ts"
import { launch, phone } from "./support/launch.ts"

const TEAL = `952123450001${gtinCheckDigit("952123450001")}`

let browser: Browser
let studio: TestStudio
let here: Listening
let context: BrowserContext
let page: Page
let deliveryId: number

beforeAll(async () => {
  browser = await launch()
})
afterAll(() => browser.close())
beforeEach(async () => {
  studio = testStudio()
  bottleWithCode(studio, "Teal", [TEAL])
  deliveryId = deliveryFrom(studio, "Harbour Supply").deliveryId
  here = await listenWith(studio, [receivingRoutes, historyRoutes])
  context = await phone(browser, here.url)
  page = await context.newPage()
  await page.goto("/receive")
  return async () => {
    await context.close()
    await here.close()
  }
})

const received = () => onHand(studio.file, "America/Chicago").map((one) => one.lotNumber)
const line = () => page.locator("[data-waiting]")

async function shoot(code: string): Promise<void> {
  await page.getByLabel("Or type the code").fill(code)
  await page.getByRole("button", { name: "Look it up" }).click()
}

/** The panel of the teal bottle with its lot, ready for the button. */
async function fillIn(lot: string): Promise<void> {
  await shoot(TEAL)
  await page.locator("[data-panel] h2", { hasText: "Teal pack" }).waitFor()
  await page.getByRole("textbox", { name: "Lot number" }).fill(lot)
}

const takeIn = () => page.getByRole("button", { name: "Take it in", exact: true }).click()

test("a receipt made while the connection is down waits in the page and is sent once when it is back", async () => {
  await fillIn("T-1")
  await context.setOffline(true)
  await takeIn()
  await line().filter({ hasText: "One receipt waits for the connection. Keep this page open." }).waitFor()
  expect(await page.locator("[data-panel]").isHidden()).toBe(true)
  expect(received()).toEqual([])
  await context.setOffline(false)
  await page.locator(".line", { hasText: "lot T-1" }).waitFor()
  await line().waitFor({ state: "hidden" })
  // time enough for it to be sent a second time, if it were
  await page.waitForTimeout(4_000)
  expect(received()).toEqual(["T-1"])
})

test("one that reached Lotcup while its answer did not come back is sent again and still kept once", async () => {
  await fillIn("T-2")
  await page.route("**/receive/confirm*", async (route) => {
    if (route.request().method() !== "POST") return route.continue()
    await route.fetch({ maxRedirects: 0 })
    await route.abort("connectionreset")
  })
  await takeIn()
  await line().filter({ hasText: "One receipt waits" }).waitFor()
  expect(received()).toEqual(["T-2"])
  await page.unroute("**/receive/confirm*")
  await line().waitFor({ state: "hidden", timeout: 15_000 })
  expect(received()).toEqual(["T-2"])
  await page.locator(".line", { hasText: "lot T-2" }).waitFor()
})

test("scans made meanwhile wait too and are looked up one after the other", async () => {
  await context.setOffline(true)
  await shoot(TEAL)
  await shoot("NEW-THING-9")
  await line().filter({ hasText: "2 scans wait to be looked up" }).waitFor()
  await context.setOffline(false)
  await page.locator("[data-panel] h2", { hasText: "Teal pack" }).waitFor({ timeout: 15_000 })
  await page.getByRole("button", { name: "Not now" }).click()
  await page.locator("[data-panel] h2", { hasText: "What is it?" }).waitFor({ timeout: 15_000 })
})

test("closing the page with something waiting warns, and not otherwise", async () => {
  const asked: string[] = []
  page.on("dialog", (dialog) => {
    asked.push(dialog.type())
    void dialog.accept()
  })
  const idle = await context.newPage()
  await idle.goto("/receive")
  idle.on("dialog", () => asked.push("for nothing"))
  // a browser only warns of pages that were touched
  await idle.getByLabel("Or type the code").fill("1")
  await idle.close({ runBeforeUnload: true })

  await fillIn("T-3")
  await context.setOffline(true)
  await takeIn()
  await line().waitFor()
  await page.close({ runBeforeUnload: true })
  await expect.poll(() => asked).toEqual(["beforeunload"])
})

test("what was refused when it was sent at last is said, and can be looked at", async () => {
  await fillIn("T-4")
  await context.setOffline(true)
  await takeIn()
  await line().waitFor()
  closeDelivery(studio, someone(), deliveryId)
  await context.setOffline(false)
  await line()
    .filter({ hasText: "One was not taken in: This delivery is closed." })
    .waitFor({ timeout: 15_000 })
  await page.getByRole("button", { name: "Look at it" }).click()
  await page.locator("[data-panel]", { hasText: "This delivery is closed" }).waitFor()
  expect(await page.getByRole("textbox", { name: "Lot number" }).inputValue()).toBe("T-4")
  expect(received()).toEqual([])
})
