import axeCore from "axe-core"
import { pino } from "pino"
import type { Browser, Page } from "playwright-core"
import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { createApp } from "../../server/app.ts"
import { type Listening, listen } from "../http/listening.ts"
import { launch, phone } from "./support/launch.ts"

let here: Listening
let browser: Browser
let page: Page

beforeAll(async () => {
  const file = openStudioFile(":memory:")
  loadDemo(file, Temporal.Now.instant())
  const studio = { file, now: () => Temporal.Now.instant() }
  here = await listen((port) => createApp(studio, { port, logger: pino({ level: "silent" }) }))
  browser = await launch()
  page = await (await phone(browser, here.url)).newPage()
})
afterAll(async () => {
  await browser?.close()
  await here?.close()
})

test("a batch is started, coated, finished; a cup is traced to its hardener lot and the lot back to the cup", async () => {
  await page.goto("/batches")
  await page.getByLabel("Design").selectOption({ label: "Sea glass" })
  await page.getByLabel("How many cups").fill("2")
  await page.getByRole("button", { name: "Start" }).click()
  await expect.poll(() => page.textContent("h1")).toMatch(/Sea glass, batch \d+/)

  await page.getByRole("button", { name: "Done: Scuff and wipe" }).click()
  await expect.poll(() => page.textContent("main")).toContain("Next: White base on 2 of 2 cups.")
  await page.getByRole("button", { name: "Finish the batch" }).click()
  await expect.poll(() => page.textContent("main")).toContain("Every cup of this batch is finished.")

  const serial = (await page.locator('a[href^="/cups/"]').first().textContent())!.trim()
  await page.goto("/trace")
  await page.getByRole("textbox").first().fill(serial.toLowerCase())
  await page.getByRole("button", { name: "Find it" }).click()
  await expect.poll(() => page.textContent("h1")).toBe(`Cup ${serial}`)
  const hardener = page.locator("tr", { hasText: "Tumble Clear B" }).first()
  await hardener.locator('a[href^="/lots/"]').first().click()
  await expect.poll(() => page.textContent("h1")).toMatch(/^Tumble Clear B, lot L/)
  expect(await page.textContent("main")).toContain(serial)
})

test("what runs short is said in words, and one more order shows what it alone would make short", async () => {
  await page.goto("/forecast")
  expect(await page.textContent("main")).toMatch(/Enough for \d+ of 40 cups; .+ stops you on/)
  const due = Temporal.Now.plainDateISO().add({ days: 30 }).toString()
  await page.goto(`/forecast?designId=5&quantity=40&dueOn=${due}`)
  expect(await page.textContent("main")).toContain("Keep as planned")
  expect(await page.textContent("main")).toMatch(/Stepped 40 oz blank/)
})

test.each([
  "/receive",
  "/shelf",
  "/batches",
  "/batches/1",
  "/trace",
  "/lots/1",
  "/designs",
  "/designs/1",
  "/forecast",
  "/orders",
  "/shopping",
  "/setup",
  "/history",
  "/welcome",
])("%s has nothing serious for axe to say", async (path) => {
  await page.goto(path)
  await page.evaluate(axeCore.source)
  const violations = await page.evaluate(async () => {
    const { axe } = window as unknown as {
      axe: { run(): Promise<{ violations: { id: string; impact: string; nodes: { html: string }[] }[] }> }
    }
    return (await axe.run()).violations
      .filter(({ impact }) => impact === "serious" || impact === "critical")
      .map(({ id, nodes }) => `${id}: ${nodes[0]?.html}`)
  })
  expect(violations).toEqual([])
})
