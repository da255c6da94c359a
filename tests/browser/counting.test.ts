import type { Browser } from "playwright-core"
import { afterAll, beforeAll, expect, test } from "vitest"
import { countingRoutes } from "../../server/counting/routes.ts"
import { startStocktake, stocktake } from "../../server/counting/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import type { Listening } from "../http/listening.ts"
import { listenWith } from "../http/some-rooms.ts"
import { addOne, receiveSome } from "../support/shelf-fixtures.ts"
import { someone, TODAY, testStudio } from "../support/studio.ts"
import { bench, fakeCamera, photoOf } from "./support/fake-camera.ts"
import { launch, phone } from "./support/launch.ts"

const studio = testStudio()
const supplyId = addOne(studio, { name: "Clear part A" })
const { codes } = receiveSome(studio, supplyId, { number: "A-1", receivedOn: TODAY }, { count: 2 })
const [scanned, typed] = codes as [string, string]

let browser: Browser
let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [countingRoutes, historyRoutes])
  browser = await launch({
    y4m: await fakeCamera([await bench(), await photoOf({ bcid: "qrcode", text: scanned })]),
  })
})
afterAll(async () => {
  await browser?.close()
  await here?.close()
})

test("on a phone: the camera finds the bottle, one tap says how full it is, the next comes by hand-held scanner", async () => {
  const { id } = startStocktake(studio, someone(), { kind: null, place: null, blind: true }).answer
  const context = await phone(browser, here.url)
  const page = await context.newPage()
  await page.goto(`/counting/${id}`)
  // allowed before, so that the picture is there by itself
  await page.waitForURL(`**/counting/${id}/containers/${scanned}`)
  await page.getByRole("button", { name: /^½/ }).click()
  await page.getByText("Scan the next one").waitFor()
  expect(new URL(page.url()).pathname).toBe(`/counting/${id}`)
  await context.close()

  // a computer with a hand-held scanner: it types into the field that has the focus
  const desk = await (await browser.newContext({ baseURL: here.url, permissions: [] })).newPage()
  await desk.goto(`/counting/${id}`)
  await desk.keyboard.type(typed)
  await desk.keyboard.press("Enter")
  await desk.waitForURL(`**/counting/${id}/containers/${typed}`)
  await desk.getByLabel("The scale reads, bottle and all").fill("600")
  await desk.getByLabel("The bottle alone weighs").fill("50")
  await desk.getByRole("button", { name: "Keep the weight" }).click()
  await desk.getByText("Scan the next one").waitFor()

  // 550 g at 1.100 g/mL are 500 mL
  expect(
    stocktake(studio, id).lines.map((line) => [line.code, line.counted?.found, line.counted?.basis]),
  ).toEqual([
    [scanned, 250_000, "estimated"],
    [typed, 500_000, "weighed"],
  ])
})
