import type { Browser, Page } from "playwright-core"
import sharp from "sharp"
import { afterAll, beforeAll, expect, test } from "vitest"
import { historyRoutes } from "../../server/history/routes.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import type { Listening } from "../http/listening.ts"
import { listenWith } from "../http/some-rooms.ts"
import { bottleWithCode, deliveryFrom } from "../support/receiving-fixtures.ts"
import { testStudio } from "../support/studio.ts"
import { launch, phone } from "./support/launch.ts"

const studio = testStudio()
bottleWithCode(studio, "Teal", ["TEAL-1"])
const { deliveryId } = deliveryFrom(studio, "Harbour Supply")
let browser: Browser
let here: Listening
let page: Page

beforeAll(async () => {
  browser = await launch()
  here = await listenWith(studio, [receivingRoutes, shelfRoutes, historyRoutes])
  page = await (await phone(browser, here.url)).newPage()
})
afterAll(async () => {
  await browser?.close()
  await here?.close()
})

/** As a phone held upright keeps it: lying on its side, with a note to turn it, and where it was taken. */
function fromPhone(): Promise<Buffer> {
  return sharp({ create: { width: 2400, height: 1200, channels: 3, background: "#e8e0d0" } })
    .composite([
      { input: { create: { width: 300, height: 300, channels: 3, background: "#204080" } }, left: 0, top: 0 },
    ])
    .withMetadata({
      orientation: 6,
      exif: {
        IFD0: { Make: "SECRETMAKER" },
        IFD3: { GPSLatitudeRef: "N", GPSLatitude: "51/1 30/1 0/1" },
      },
    })
    .jpeg()
    .toBuffer()
}

const photoFile = async () => ({ name: "label.jpg", mimeType: "image/jpeg", buffer: await fromPhone() })
const kept = () =>
  studio.file.firstText<{ bytes: Buffer; lot: number }>(
    "SELECT p.bytes, l.lot_id AS lot FROM photo p JOIN lot_photo l ON l.photo_id = p.id ORDER BY p.id DESC LIMIT 1",
  )!

test("a photo taken while a thing is confirmed goes with its receipt: upright, small, and only the picture", async () => {
  await page.goto(`/receive?delivery=${deliveryId}`)
  await page.getByLabel("Or type the code").fill("TEAL-1")
  await page.getByRole("button", { name: "Look it up" }).click()
  const panel = page.locator("[data-panel]")
  await panel.locator("h2", { hasText: "Teal pack" }).waitFor()
  await panel.locator("[data-label-photo]").setInputFiles(await photoFile())
  await panel.getByText("The photo is kept with the receipt once you take it in.").waitFor()
  await panel.getByRole("textbox", { name: "Lot number" }).fill("T-1")
  await panel.getByRole("button", { name: "Take it in", exact: true }).click()
  await page.locator("[data-notice]", { hasText: "Teal pack received, lot T-1" }).waitFor()

  const { bytes } = kept()
  const metadata = await sharp(bytes).metadata()
  // 2400 × 1200 on its side is 800 × 1600 upright
  expect([metadata.format, metadata.width, metadata.height, metadata.exif]).toEqual([
    "jpeg",
    800,
    1600,
    undefined,
  ])
  expect(bytes.toString("latin1")).not.toMatch(/SECRET|GPS|Exif/)
  // the dark square of the lying picture's upper left corner is now at the upper right
  const at = async (left: number) => {
    const [red = 255] = await sharp(bytes).extract({ left, top: 60, width: 1, height: 1 }).raw().toBuffer()
    return red
  }
  expect(await at(740)).toBeLessThan(80)
  expect(await at(60)).toBeGreaterThan(180)
})

test("it stands on the container's page, where another is put to it in one go", async () => {
  const code = studio.file.firstText<{ code: string }>(
    "SELECT code FROM container ORDER BY id DESC LIMIT 1",
  )!.code
  await page.goto(`/containers/${code}`)
  await page.locator(".photos img").first().waitFor()
  const other = await sharp(await fromPhone())
    .negate()
    .jpeg()
    .toBuffer()
  await page
    .locator("[data-label-photo]")
    .setInputFiles({ name: "back.jpg", mimeType: "image/jpeg", buffer: other })
  await page.locator("[data-notice]", { hasText: "Photo of Teal, lot T-1" }).waitFor()
  expect(await page.locator(".photos img").count()).toBe(2)
  const shown = await page
    .locator(".photos img")
    .evaluateAll((all) => all.map((one) => (one as HTMLImageElement).naturalWidth > 0))
  expect(shown).toEqual([true, true])
})

test("a file that is no picture is said, and nothing is sent", async () => {
  await page
    .locator("[data-label-photo]")
    .setInputFiles({ name: "notes.jpg", mimeType: "image/jpeg", buffer: Buffer.from("not a picture") })
  await page.getByText("That file is not a picture. Pick a photo.").waitFor()
})
