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
/** Forms the page sent, by their path. */
let sent: string[]

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
  sent = []
  page.on("request", (request) => {
    if (request.method() === "POST") sent.push(new URL(request.url()).pathname)
  })
  return () => context.close()
})
const path = () => new URL(page.url()).pathname

describe("after a mistake that was corrected", () => {
  const code = house.studio.file.firstText<{ code: string }>(
    "SELECT c.code FROM container c JOIN supply s ON s.id = c.supply_id WHERE s.base_unit = 'uL' AND c.amount_left > 0 LIMIT 1",
  )?.code

  test("Back and loading again show the page, and send nothing a second time", async () => {
    await page.goto(`/containers/${code}`)
    await page.getByText("Decant into a new bottle").click()
    const amount = page.getByRole("textbox", { name: /How much goes into the new one/ })
    await amount.fill("a lot")
    await page.getByRole("button", { name: "Decant" }).click()
    await page.getByRole("alert").waitFor()
    expect(path()).toBe(`/containers/${code}`)
    await page.getByRole("textbox", { name: /How much goes into the new one/ }).fill("1")
    await page.getByRole("button", { name: "Decant" }).click()
    await page.getByText("Decanted").first().waitFor()
    expect(path()).not.toBe(`/containers/${code}`)
    expect(sent).toHaveLength(2)
    await page.goBack()
    expect(path()).toBe(`/containers/${code}`)
    await page.getByText("Decant into a new bottle").waitFor()
    await page.reload()
    await page.getByText("Decant into a new bottle").waitFor()
    expect(sent).toHaveLength(2)
  })

  test("what is wrong in a fold is shown, and has the focus", async () => {
    await page.goto("/receive")
    await page.getByText("Somebody new").click()
    await page.getByLabel("Seller's name").fill("Nearby Paints")
    await page.getByLabel("From order to door").fill("soon")
    await page.getByRole("button", { name: "Begin scanning" }).click()
    await page.getByRole("alert").waitFor()
    await expect.poll(() => page.getByLabel("From order to door").isVisible()).toBe(true)
    expect(await page.evaluate(() => document.activeElement?.getAttribute("name"))).toBe("leadTimeDays")
  })

  test("a form of its own address is loaded again empty, and goes on being sent to that address", async () => {
    await page.goto("/setup/blanks/new")
    await page
      .getByRole("button", { name: /add|save|keep/i })
      .last()
      .click()
    // the browser itself asks for what is missing: send it as a hand-made request would be
    await page.evaluate(() => document.querySelector<HTMLFormElement>("main form[method=post]")?.submit())
    await page.getByRole("alert").waitFor()
    expect(path()).toBe("/setup/blanks/new")
    await page.reload()
    expect(await page.getByRole("alert").count()).toBe(0)
    expect(sent).toEqual(["/setup/blanks/new"])
  })
})

describe("a design being typed", () => {
  const begin = async () => {
    await page.goto("/designs/new")
    await page.getByRole("textbox", { name: "Name" }).fill("Half-moon")
    await page.getByRole("button", { name: "Prep", exact: true }).click()
    await page.locator("details[data-layer]").waitFor()
  }
  const layers = () => page.locator("details[data-layer]").count()
  const name = () => page.getByRole("textbox", { name: "Name", exact: true }).first().inputValue()

  test("is there again, with its layers and the new cup chosen, after the cup was added on the way", async () => {
    await begin()
    await page.getByRole("link", { name: "Add it" }).click()
    await page.getByRole("textbox", { name: "Name" }).fill("Squat mug")
    const widths = page.getByRole("textbox", { name: /width/i })
    await widths.nth(0).fill("80")
    await page
      .getByRole("textbox", { name: /height/i })
      .first()
      .fill("95")
    await widths.nth(1).fill("80")
    await page.locator("main form[method=post] button[type=submit]").last().click()
    await page.getByText("What you had typed here is back").waitFor()
    expect(path()).toBe("/designs/new")
    expect(await name()).toBe("Half-moon")
    expect(await layers()).toBe(1)
    expect(await page.locator("select[name=blankSupplyId] option:checked").textContent()).toBe("Squat mug")
  })

  test("is there again after Back, and after loading again; “Begin anew” throws it away", async () => {
    await begin()
    await page.getByRole("link", { name: "Add it" }).click()
    await page.waitForURL("**/setup/blanks/new*")
    await page.goBack()
    await page.getByText("What you had typed here is back").waitFor()
    expect([await name(), await layers()]).toEqual(["Half-moon", 1])
    page.on("dialog", (dialog) => void dialog.accept())
    await page.reload()
    await page.getByText("What you had typed here is back").waitFor()
    expect([await name(), await layers()]).toEqual(["Half-moon", 1])
    await page.getByRole("button", { name: "Begin anew" }).click()
    await expect.poll(name).toBe("")
    expect(await layers()).toBe(0)
    expect(await page.getByText("What you had typed here is back").isVisible()).toBe(false)
  })

  test("warns before the tab is closed, not when a link is followed, and not when nothing was typed", async () => {
    const asked: string[] = []
    page.on("dialog", (dialog) => {
      asked.push(dialog.type())
      void dialog.accept()
    })
    await page.goto("/designs/new")
    await page.goto("/designs")
    await begin()
    await page.getByRole("link", { name: "Add it" }).click()
    await page.waitForURL("**/setup/blanks/new*")
    expect(asked).toEqual([])
    await page.goBack()
    await page.getByText("What you had typed here is back").waitFor()
    await page.getByRole("textbox", { name: "Name", exact: true }).first().fill("Full moon")
    await page.close({ runBeforeUnload: true })
    await expect.poll(() => asked).toEqual(["beforeunload"])
  })
})
