import type { Browser, Page } from "playwright-core"
import { afterAll, beforeAll, expect, test } from "vitest"
import { forecast } from "../../server/forecast/service.ts"
import { ordersList } from "../../server/orders/service.ts"
import { openPurchases } from "../../server/purchasing/service.ts"
import { verify } from "../../server/verify/service.ts"
import { demoHouse, wholeApp } from "../support/demo-studio.ts"
import { launch, phone } from "./support/launch.ts"
import { faultsOf, listenForErrors } from "./support/page-faults.ts"

/*
 * Somebody asks for forty cups. On the demo, from the draft order to the shelf that is enough for it, by thumb: each
 * test goes on where the one before stopped.
 */

const SELLERS = ["Cupworks Supply", "Northgate Craft", "Corner Hardware", "Pier Street Paints"]

const house = demoHouse()
const { here } = await wholeApp(house)
const { studio } = house
const [draft] = ordersList(studio, ["draft"])

let browser: Browser
let page: Page
let errors: string[]
beforeAll(async () => {
  browser = await launch()
  page = await (await phone(browser, here.url)).newPage()
  errors = listenForErrors(page)
})
afterAll(async () => {
  await browser.close()
  await here.close()
  house.close()
})

const lead = async () => (await page.locator(".lead").textContent())!.replace(/\s+/g, " ").trim()
const cell = (row: string, label: string) =>
  page.locator("tr", { hasText: row }).locator(`[data-label="${label}"]`)

test("the answer comes in words first: when it is ready, how many by the day, what stops it and from when", async () => {
  await page.goto(`/orders/${draft!.orderId}`)
  await page.getByRole("link", { name: "What would it make short?" }).click()
  expect(await lead()).toBe(
    "Yes, if you order today: all 40 can be in time for Thu 31 Dec. With what you have, 17. From Thu 17 Dec you lack Holo white. All ready Sat 26 Dec at the earliest.",
  )
  const asked = page.locator(".asked")
  // what stands behind it, the least that any plan would take among it
  for (const said of [
    "Order Slim 20 oz blank, White primer, Holo white and 4 more today and all of it is here on Thu 10 Dec",
    "Begin by Tue 15 Dec at the latest",
    "The soonest of all is Fri 11 Dec",
  ])
    expect(await asked.textContent()).toContain(said)
})

test("then as a picture, and what to order by when, from whom, at what cost", async () => {
  const picture = page.locator(".asked svg[role=img]").first()
  expect(await picture.getAttribute("aria-label")).toBe(
    "Runs short: Lagoon mix from Thu 10 Dec; Holo white from Thu 17 Dec; Slim 20 oz blank from Thu 17 Dec; White primer from Sat 19 Dec; Sliding lids from Sat 19 Dec; Gift boxes from Sat 19 Dec; Tumble Clear A from Mon 21 Dec; Tumble Clear B from Mon 21 Dec.",
  )
  expect(await cell("Holo white", "First short").textContent()).toBe("Thu 17 Dec")
  expect(await cell("Holo white", "Order by").textContent()).toBe("Sat 12 Dec")
  expect(await cell("Holo white", "Buy").textContent()).toContain(
    "3 × Holo white, 2 oz jar from Northgate Craft",
  )
  expect(await cell("Holo white", "Cost").textContent()).toBe("$16.47")
  expect(await cell("Sliding lids", "Buy").textContent()).toContain(
    "Or use Flip lids: 30 free, enough for it.",
  )
  expect(await page.locator(".asked").textContent()).toContain("Supplies to buy for it: $215.71.")
  await page.getByText("The turners with it").click()
  expect(await page.locator(".asked details svg[role=img]").first().getAttribute("aria-label")).toMatch(
    /^Turner places over \d+ days: at most 1[0-2] of 12 at once, on /,
  )
  expect(await faultsOf(page, errors)).toEqual([])
})

test("a figure explains itself: the days of a supply add up to what is missing", async () => {
  await page.locator(".asked").getByRole("link", { name: "Sliding lids" }).click()
  expect(await lead()).toBe("Runs short on Sat 19 Dec: 22 missing in all.")
  const days = page.locator("table", { hasText: "Needed for" })
  const missing = await days.locator('[data-label="Missing"]').allTextContents()
  expect(missing.map(Number).filter((n) => n > 0)).toEqual([1, 10, 11])
  expect(await days.textContent()).toContain("1 Sea glass, the order asked about, in case cups are scrapped")
  expect(await faultsOf(page, errors)).toEqual([])
  await page.goBack()
})

test("planned and ticked as ordered, seller by seller, nothing is short any more", async () => {
  await page.getByRole("button", { name: "Plan it" }).click()
  await page.goto("/shopping")
  expect(await lead()).toBe("16 packs from 4 sellers, $339.14 in all. Order the first by Sat 5 Dec.")
  const cupworks = page.locator("section", { hasText: "Cupworks Supply" })
  expect(await cupworks.textContent()).toContain("$146.00 and $14.00 shipping: $160.00.")
  expect(await cupworks.textContent()).toContain("18 pcs missing from Thu 17 Dec, 4 pcs below its minimum")
  expect(await cupworks.textContent()).toContain("2 packs hold 24 pcs")
  expect(await faultsOf(page, errors)).toEqual([])
  const askedOnce: string[] = []
  for (const seller of SELLERS) {
    await page.getByRole("button", { name: `Ordered what is ticked: ${seller}` }).click()
    const came = page.getByRole("button", { name: `It came: receive from ${seller}` })
    // of one that is too small for its seller, or nearly ships free, it is asked once
    const allTheSame = page.getByRole("button", { name: `Ordered all the same: ${seller}` })
    await came.or(allTheSame).waitFor()
    if (await allTheSame.isVisible()) {
      askedOnce.push(seller)
      await allTheSame.click()
    }
    await came.waitFor()
  }
  expect(askedOnce).toEqual(["Pier Street Paints"])
  expect(await lead()).toMatch(/^Nothing needs to be bought/)
  expect(await faultsOf(page, errors)).toEqual([])
  await page.goto("/forecast")
  expect(await lead()).toBe("Enough for everything planned: 64 cups for 2 orders.")
})

test("what comes is received against it, and it is enough still", async () => {
  expect(openPurchases(studio)).toHaveLength(9)
  for (const seller of SELLERS) {
    await page.goto("/shopping")
    await page.getByRole("button", { name: `It came: receive from ${seller}` }).click()
    await page.getByRole("button", { name: "Finish this delivery" }).waitFor()
    const delivery = page.url()
    const packs = openPurchases(studio).filter((purchase) => purchase.seller === seller)
    for (const { pack, count } of packs) {
      await page.goto(delivery)
      // what this seller owes stands on the delivery's page at once, a tap on it begins its line
      const row = page.locator("[data-expected]").getByRole("link", { name: pack })
      expect((await row.boundingBox())!.height).toBeGreaterThanOrEqual(56)
      expect(await row.textContent()).toMatch(new RegExp(`${count} to come, expected `))
      await row.click()
      expect(await page.locator("main").textContent()).toContain(`${count} ordered, expected`)
      await takeIn(count)
      await page.getByRole("heading", { name: "In the book so far" }).waitFor()
    }
    await page.goto(delivery)
    await page.getByRole("button", { name: "Finish this delivery" }).click()
    await page.locator(".toast").getByRole("button", { name: "Undo" }).waitFor()
  }
  expect(openPurchases(studio)).toEqual([])
  expect(forecast(studio).shortfalls).toEqual([])
  await page.goto("/forecast")
  expect(await lead()).toBe("Enough for everything planned: 64 cups for 2 orders.")
  await page.goto("/shopping")
  expect(await lead()).toMatch(/^Nothing needs to be bought/)
  expect(await page.locator("main").textContent()).toContain("Nothing is on its way.")
  expect(verify(studio.file)).toEqual([])
  expect(await faultsOf(page, errors)).toEqual([])
})

/** So many, of no lot number that anybody could read. */
async function takeIn(count: number): Promise<void> {
  await page.locator('input[name="count"]').fill(String(count))
  for (const none of await page.getByLabel("None printed").all())
    if (await none.isVisible()) await none.check()
  await page.getByRole("button", { name: "Take it in", exact: true }).click()
}
