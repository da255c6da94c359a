import type { Browser, BrowserContext, Page } from "playwright-core"
import { afterAll, beforeAll, beforeEach, expect, test } from "vitest"
import type { Listening } from "../http/listening.ts"
import { demoHouse, wholeApp } from "../support/demo-studio.ts"
import { launch, phone } from "./support/launch.ts"

const house = demoHouse()
let browser: Browser
let here: Listening
let batch: string
let context: BrowserContext
let page: Page

beforeAll(async () => {
  here = (await wholeApp(house)).here
  browser = await launch()
  const list = (await here.get("/batches")).text
  const versionId = /value="(\d+)"[^>]*>Harbour night</.exec(list)![1]!
  const answer = await here.post("/batches", { key: crypto.randomUUID(), versionId, cups: "4" })
  batch = answer.headers.location!
  // a sprayed coat is next: several cans, several cautions
  for (const position of ["1", "2", "3"])
    await here.post(`${batch}/coat`, { key: crypto.randomUUID(), position, scuff: "" })
}, 60_000)
beforeEach(async () => {
  await context?.close()
  context = await phone(browser, here.url)
  page = await context.newPage()
  await page.goto(batch)
})
afterAll(async () => {
  await browser?.close()
  await here?.close()
  house.close()
})

const boxOf = async (selector: string) => (await page.locator(selector).first().boundingBox())!

test("Done is within reach above the bar of rooms while its card is in view, and no more below it", async () => {
  const bar = await boxOf(".rooms")
  await page.locator(".take").first().scrollIntoViewIfNeeded()
  const done = await boxOf(".within-reach button")
  expect(done.y + done.height).toBeLessThanOrEqual(bar.y)
  expect(done.y).toBeGreaterThan(0)
  await page.locator(".layer-list").scrollIntoViewIfNeeded()
  await page.mouse.wheel(0, 3000)
  await page.waitForFunction(
    () => (document.querySelector(".within-reach button")?.getBoundingClientRect().bottom ?? 1) < 0,
  )
})

test("a second tap of the same thumb does not do the next layer too", async () => {
  const done = page.locator(".within-reach button")
  const first = await done.textContent()
  const { x, y, width, height } = (await done.boundingBox())!
  const tap = () => page.mouse.click(x + width / 2, y + height / 2)
  await tap()
  await page.waitForFunction(
    (was) => document.querySelector(".within-reach button")?.textContent !== was,
    first,
  )
  await page.waitForLoadState("load")
  const next = await done.textContent()
  await tap()
  await page.waitForTimeout(1_300)
  expect(await done.textContent()).toBe(next)
  await done.click()
  await page.waitForFunction(
    (was) => document.querySelector(".within-reach button")?.textContent !== was,
    next,
  )
})

test("the gravest caution is read without a tap, the others in a fold", async () => {
  const care = page.locator(".doing .caution")
  expect(await care.locator("h2").textContent()).toContain("Take care: ")
  expect(await care.locator("p").isVisible()).toBe(true)
  const last = care.getByText("safety data sheet and your local rules")
  expect(await last.isVisible()).toBe(false)
  await care.locator("summary").click()
  expect(await last.isVisible()).toBe(true)
})

test("what the keyboard comes to lies neither under Done nor under the bar of rooms", async () => {
  const bar = await boxOf(".rooms")
  const hidden: string[] = []
  let seen = 0
  for (let step = 0; step < 60; step += 1) {
    await page.keyboard.press("Tab")
    const at = await page.evaluate(() => {
      const one = document.activeElement
      if (!one?.closest("main") || one.closest(".within-reach") !== null) return null
      const top = document.querySelector(".within-reach")?.getBoundingClientRect()
      const { bottom, height } = one.getBoundingClientRect()
      const under = top !== undefined && one.closest(".doing") !== null ? top.top : Number.POSITIVE_INFINITY
      return { bottom, height, under, what: one.textContent?.trim().slice(0, 40) ?? "" }
    })
    if (at !== null) seen += 1
    if (at !== null && at.height > 1 && at.bottom > Math.min(at.under, bar.y) + 1) hidden.push(at.what)
  }
  expect(seen).toBeGreaterThan(20)
  expect(hidden).toEqual([])
})

test("a tapped bottle leads back to where it stands, and no bottle runs off the edge", async () => {
  const edges = await page
    .locator(".bottle:visible")
    .evaluateAll((all) => all.map((one) => one.getBoundingClientRect().right))
  expect(edges.length).toBeGreaterThan(0)
  expect(Math.max(...edges)).toBeLessThanOrEqual(390)

  await page.locator(".doing button.bottle").last().click()
  await page.waitForURL(/#bench-\d+$/)
  expect(await page.evaluate(() => window.scrollY)).toBeGreaterThan(0)
  const { y } = await boxOf(`[id="${new URL(page.url()).hash.slice(1)}"]`)
  expect(y).toBeGreaterThanOrEqual(0)
  expect(y).toBeLessThan(844 / 2)
})

test("a bottle of a later layer leads back into its fold", async () => {
  await page.getByText("Containers for the later layers").click()
  const bottle = page.locator('[id^="later-"] button.bottle').last()
  await bottle.click()
  await page.waitForURL(/#later-\d+$/)
  const back = page.locator(`[id="${new URL(page.url()).hash.slice(1)}"]`)
  expect(await back.isVisible()).toBe(true)
})
