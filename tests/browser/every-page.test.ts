import type { Browser, Page } from "playwright-core"
import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { demoHouse, emptyHouse, REACHED, wholeApp } from "../support/demo-studio.ts"
import { everyState } from "../support/every-state.ts"
import { type FoundPage, routeOf, walk } from "../support/pages-of.ts"
import { routesOf } from "../support/routes-of.ts"
import { launch } from "./support/launch.ts"
import { faultsOf, listenForErrors } from "./support/page-faults.ts"

/** Sent by a page's script alone. */
const NO_FORM = ["/setup/bring-in/:kind/upload", "/setup/copies/upload"]

/** What leads nowhere gets a page too. */
const NOT_THERE = [
  "/nowhere",
  "/batches/999999",
  "/cups/none",
  "/go?code=nothing-like-it",
  "/forecast?designId=x&quantity=-1",
  "/receive/scan?code=9520000000019",
]

const house = demoHouse()
const demo = await wholeApp(house, REACHED)
const firstDay = await wholeApp(emptyHouse())
const state = await everyState(house.studio, demo.here)
const routes = routesOf(demo.app)
const posts = routes
  .filter(({ method, path }) => method === "post" && !NO_FORM.includes(path))
  .map(({ path }) => path)
const walked = [await walk(demo.here, routes, state.addresses), await walk(firstDay.here, routes)] as const
const pages = walked.flatMap((one) => one.pages)
const titled = pages.map((page) => ({
  ...page,
  title: page.url === demo.here.url ? page.address : `${page.address} on the first day`,
}))

const PHONE_BY_DAY = { width: 390, height: 844, colorScheme: "light" } as const
const WIDE_BY_NIGHT = { width: 1280, height: 800, colorScheme: "dark" } as const

let browser: Browser
beforeAll(async () => {
  browser = await launch()
})
afterAll(async () => {
  await browser.close()
  await demo.here.close()
  await firstDay.here.close()
})

test("every address the application knows is asked here, and no link leads nowhere", () => {
  const answered = new Set(walked.flatMap((one) => [...one.answered]))
  expect(routes.filter(({ method, path }) => method === "get" && !answered.has(path))).toEqual([])
  expect(walked.flatMap((one) => one.nowhere)).toEqual([])
})

test("everything that can be sent has a form on a page", () => {
  const sent = new Set(pages.flatMap(postsOn).map(({ path }) => routeOf(path, posts)))
  expect(posts.filter((path) => !sent.has(path))).toEqual([])
})

describe("one heading, no sideways push, nothing serious for axe, no error in the console, on either screen:", () => {
  let page: Page
  let errors: string[]
  beforeAll(async () => {
    page = await browser.newPage()
    errors = listenForErrors(page)
  })
  afterAll(() => page.close())
  beforeEach(() => turnTo(PHONE_BY_DAY))

  test.each(titled)("$title", async ({ url, address }) => {
    await page.goto(url + address)
    await isSound()
  })

  test.each(NOT_THERE)("%s, which is refused", async (address) => {
    const answer = await page.goto(demo.here.url + address)
    expect(answer?.status()).toBeGreaterThanOrEqual(400)
    await isSound()
  })

  test.each(posts)("%s, refused with everything left empty", async (path) => {
    expect(await sendFrom(page, pageWithForm(path), path, "empty")).toBeOneOf([400, 422])
    await isSound()
  })

  test("a batch that cannot be finished, with what is missing", async () => {
    const large = pages.find(({ address }) => address === state.largeBatch)!
    expect(await sendFrom(page, large, "/batches/:id/finish", "as it is")).toBe(409)
    await page.getByRole("heading", { name: "What is missing" }).waitFor()
    await isSound()
  })

  test("a pack that is confirmed without leaving the delivery", async () => {
    await page.goto(`${demo.here.url}/receive`)
    await page.keyboard.type(state.packCode)
    await page.keyboard.press("Enter")
    await page.getByRole("button", { name: "Take it in", exact: true }).waitFor()
    await isSound()
  })

  test("the menu unfolded", async () => {
    await page.goto(`${demo.here.url}/setup`)
    await page.evaluate(() => {
      for (const fold of document.querySelectorAll("header details")) fold.setAttribute("open", "")
    })
    await isSound()
  })

  async function isSound(): Promise<void> {
    expect(await faultsOf(page, errors)).toEqual([])
    await turnTo(WIDE_BY_NIGHT)
    expect(await faultsOf(page, errors)).toEqual([])
  }

  async function turnTo({ width, height, colorScheme }: typeof PHONE_BY_DAY | typeof WIDE_BY_NIGHT) {
    await page.emulateMedia({ colorScheme })
    await page.setViewportSize({ width, height })
  }
})

function postsOn(page: FoundPage) {
  return page.forms.filter(({ method }) => method === "post")
}

function pageWithForm(path: string): FoundPage {
  const found = pages.find((page) => postsOn(page).some((form) => routeOf(form.path, posts) === path))
  if (!found) throw new Error(`No page has a form for ${path}.`)
  return found
}

/** Sends a form past the browser's own checks. @returns the status of the answer, whose page is then shown */
async function sendFrom(
  page: Page,
  from: FoundPage,
  path: string,
  how: "empty" | "as it is",
): Promise<number> {
  const to = postsOn(from).find((form) => routeOf(form.path, posts) === path)?.path
  await page.goto(from.url + from.address)
  const answered = page.waitForResponse((answer) => answer.request().method() === "POST")
  const shown = page.waitForEvent("load")
  await page.evaluate(
    ({ to, empty }) => {
      const form = [...document.forms].find((one) => one.method === "post" && one.action === to)
      if (!form) throw new Error(`The form for ${to} is not there.`)
      for (const field of empty ? form.querySelectorAll("input, textarea") : []) {
        const keepsItsValue = field instanceof HTMLInputElement && ["radio", "checkbox"].includes(field.type)
        if (!keepsItsValue) (field as HTMLInputElement | HTMLTextAreaElement).value = ""
      }
      // no click: that would be stopped by the browser's checks or the page's script
      form.submit()
    },
    { to: from.url + to, empty: how === "empty" },
  )
  const answer = await answered
  await shown
  return answer.status()
}
