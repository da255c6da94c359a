import type { Browser, BrowserContext, Page } from "playwright-core"
import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import type { Listening } from "../http/listening.ts"
import { demoHouse, wholeApp } from "../support/demo-studio.ts"
import { launch, phone } from "./support/launch.ts"

const house = demoHouse()
let browser: Browser
let here: Listening
let context: BrowserContext
let page: Page

beforeAll(async () => {
  here = (await wholeApp(house)).here
  browser = await launch()
}, 60_000)
afterAll(async () => {
  await browser.close()
  await here.close()
})
beforeEach(async () => {
  context = await phone(browser, here.url)
  page = await context.newPage()
  return () => context.close()
})

describe("the rooms under More", () => {
  const more = () => page.locator(".rooms summary")
  const setUp = () => page.locator(".rooms .more").getByRole("link", { name: "Set up" })

  test("go away with Esc, which gives the focus back to the button", async () => {
    await page.goto("/shelf")
    await more().click()
    await setUp().focus()
    await page.keyboard.press("Escape")
    expect(await setUp().isVisible()).toBe(false)
    expect(await more().evaluate((button) => button === document.activeElement)).toBe(true)
  })

  test("go away with a tap beside them, and stay for one on their button that opens them again", async () => {
    await page.goto("/shelf")
    await more().tap()
    await setUp().waitFor()
    await page.getByRole("heading", { level: 1 }).tap()
    expect(await setUp().isVisible()).toBe(false)
    await more().tap()
    await setUp().tap()
    await page.waitForURL("**/setup")
  })

  test("Esc with nothing open leaves the focus where it is", async () => {
    await page.goto("/shelf")
    const search = page.getByRole("searchbox")
    await search.focus()
    await page.keyboard.press("Escape")
    expect(await search.evaluate((field) => field === document.activeElement)).toBe(true)
  })
})

test("what came damaged is not said to be taken in by the button that writes it down", async () => {
  await page.goto("/receive")
  await page.getByText("Northgate Craft", { exact: true }).first().tap()
  await page.getByRole("button", { name: "Begin scanning" }).tap()
  await page.getByText("It has no code: find it by name").tap()
  await page.getByRole("button", { name: "Holo white, 2 oz jar" }).tap()
  const take = page.getByRole("button", { name: "Take it in", exact: true })
  await take.waitFor()
  await page.getByText("Damaged, leaked").tap()
  await page.getByText("Damaged: not taken in").tap()
  await page.getByText("None printed").tap()
  expect(await take.count()).toBe(0)
  await page.getByRole("button", { name: "Write down that it came damaged" }).tap()
  await page.getByText("came damaged and was not taken in").waitFor()
})

test("on paper a cup's layers stand open, without its buyer; afterwards they are as they were", async () => {
  const serial = house.studio.file.firstText<{ serial: string }>(
    "SELECT serial FROM cup WHERE order_line_id IS NOT NULL LIMIT 1",
  )!.serial
  await page.goto(`/cups/${serial}`)
  const open = () => page.locator("details[open][data-on-paper]").count()
  expect(await open()).toBe(0)
  await page.emulateMedia({ media: "print" })
  await page.evaluate(() => dispatchEvent(new Event("beforeprint")))
  expect(await open()).toBe(await page.locator("details[data-on-paper]").count())
  expect(await page.getByRole("heading", { level: 1 }).isVisible()).toBe(true)
  expect(await page.locator("dt", { hasText: /^Order$/ }).isVisible()).toBe(false)
  await page.evaluate(() => dispatchEvent(new Event("afterprint")))
  expect(await open()).toBe(0)
})

test("a notice without Undo keeps its cross beside the words", async () => {
  await page.goto("/setup/copies")
  await page.getByRole("button", { name: "Make a copy now" }).tap()
  const words = await page.locator("[data-notice] p").first().boundingBox()
  const cross = await page.locator("[data-notice] [data-dismiss]").boundingBox()
  expect(words).not.toBeNull()
  expect(cross?.y).toBeLessThan((words?.y ?? 0) + (words?.height ?? 0))
})

test("a file that cannot be a copy is told so before it is asked about, with where one comes from", async () => {
  await page.goto("/setup/copies")
  await page.locator("#copy-file").setInputFiles({
    name: "cups.jpg",
    mimeType: "image/jpeg",
    buffer: Buffer.from("a picture"),
  })
  await page.getByRole("button", { name: "Put it back" }).tap()
  const said = await page.locator("[data-upload-status]").textContent()
  expect(said).toMatch(/^cups\.jpg is no copy of a studio\..*“Take away” in the list of copies/)
  expect(await page.getByRole("button", { name: "Put it back" }).isVisible()).toBe(true)
})

test("beside a date field stands which day it is, in the words of all pages, and nothing moves when it comes", async () => {
  await page.goto("/receive/begin")
  const field = page.getByLabel("Came on")
  const words = page.locator(".date output")
  const today = (await field.inputValue()) as string
  expect(await words.textContent()).toMatch(/^\w{3} \d{1,2} \w{3}$/)
  const height = async () => (await page.locator("main").boundingBox())?.height
  await field.fill("")
  expect(await words.textContent()).toBe("")
  const before = await height()
  await field.fill(`${Number(today.slice(0, 4)) - 1}-12-04`)
  expect(await words.textContent()).toMatch(new RegExp(`^\\w{3} 4 Dec ${Number(today.slice(0, 4)) - 1}$`))
  expect(await height()).toBe(before)
})
