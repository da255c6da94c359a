import { readFileSync } from "node:fs"
import { createRequire } from "node:module"
import type { Browser, Page } from "playwright-core"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { prepareZXingModule, readBarcodes } from "zxing-wasm/reader"
import { FORMAT_NAMES, FORMATS } from "../../server/labels/formats.ts"
import { labelsRoutes } from "../../server/labels/routes.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { moveContainer } from "../../server/shelf/service.ts"
import type { Listening } from "../http/listening.ts"
import { listenWith } from "../http/some-rooms.ts"
import { deliveryFrom } from "../support/receiving-fixtures.ts"
import { addOne, receiveSome } from "../support/shelf-fixtures.ts"
import { someone, TODAY, testStudio } from "../support/studio.ts"
import { launch, phone } from "./support/launch.ts"

const studio = testStudio()
const resin = addOne(studio, { name: "Tumble Clear, slow, part A" })
const { codes } = receiveSome(
  studio,
  resin,
  { number: "LOT-2026/0417-B", expiresOn: "2028-06-30", receivedOn: TODAY },
  { count: 26 },
)
moveContainer(studio, someone(), { code: codes[0]!, place: "Shelf 2, left" })
const { deliveryId } = deliveryFrom(studio, "Harbour Supply")

let browser: Browser
let here: Listening
let page: Page

beforeAll(async () => {
  const wasm = createRequire(import.meta.url).resolve("zxing-wasm/reader/zxing_reader.wasm")
  const binary = readFileSync(wasm)
  prepareZXingModule({
    overrides: {
      wasmBinary: binary.buffer.slice(
        binary.byteOffset,
        binary.byteOffset + binary.byteLength,
      ) as ArrayBuffer,
    },
  })
  browser = await launch()
  here = await listenWith(studio, [labelsRoutes, shelfRoutes, receivingRoutes])
  const context = await browser.newContext({ baseURL: here.url, viewport: { width: 1100, height: 1300 } })
  page = await context.newPage()
})
afterAll(async () => {
  await browser?.close()
  await here?.close()
})

async function show(query: Record<string, string>): Promise<void> {
  await page.goto(`/labels?${new URLSearchParams(query)}`)
}

/** What an independent reader finds on the first page of labels as it stands on the screen. */
async function readFromScreen(): Promise<string[]> {
  const picture = await page.locator(".label-page").first().screenshot()
  const found = await readBarcodes(new Blob([new Uint8Array(picture)], { type: "image/png" }), {
    formats: ["QRCode", "DataMatrix"],
    maxNumberOfSymbols: 60,
    tryHarder: true,
  })
  return found.map((one) => one.text).sort()
}

/** Pages of the print, in mm. */
async function printed(): Promise<{ width: number; height: number }[]> {
  const pdf = (await page.pdf({ preferCSSPageSize: true, printBackground: true })).toString("latin1")
  const points = 25.4 / 72
  return [...pdf.matchAll(/\/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]/g)].map((box) => ({
    width: Number(box[1]) * points,
    height: Number(box[2]) * points,
  }))
}

describe.each(FORMAT_NAMES)("format %s", (format) => {
  test.each(["qr", "datamatrix"])("a label with a %s reads back from the screen", async (symbol) => {
    await show({ codes: codes[3]!, format, symbol })
    expect(await readFromScreen()).toEqual([codes[3]])
  })

  test("prints at its true size, one page and nothing beside the label", async () => {
    await show({ codes: codes[0]!, format })
    const pages = await printed()
    expect(pages).toHaveLength(1)
    const { width, height } = FORMATS[format].page
    // a PDF rounds to its points
    expect(Math.abs(pages[0]!.width - width)).toBeLessThan(0.4)
    expect(Math.abs(pages[0]!.height - height)).toBeLessThan(0.4)
  })

  test("says the code in clear, what it is, its lot and expiry, and has a line for the day it is opened", async () => {
    await show({ codes: codes[0]!, format })
    const words = await page.locator(".label-page text").allTextContents()
    expect(words[0]).toBe(codes[0])
    expect(words.join(" ")).toContain("Tumble Clear, slow, part A")
    expect(words).toContain("Lot LOT-2026/0417-B")
    expect(words).toContain("Use by 30 Jun 2028")
    expect(words).toContain("Opened on")
  })

  test("every text stays on its label", async () => {
    await show({ codes: codes[0]!, format })
    const over = await page.evaluate(() => {
      const paper = document.querySelector(".label-page")!.getBoundingClientRect()
      return [...document.querySelectorAll(".label-page text")]
        .map((text) => ({ text: text.textContent, box: text.getBoundingClientRect() }))
        .filter(
          ({ box }) =>
            box.right > paper.right + 0.5 || box.bottom > paper.bottom + 0.5 || box.top < paper.top,
        )
        .map(({ text }) => text)
    })
    expect(over).toEqual([])
  })
})

test("a sheet that was begun is used up: the first label goes where it is told, the rest on the next sheet", async () => {
  await show({ codes: codes.join(","), format: "a4", start: "23" })
  expect(await page.locator(".label-page").count()).toBe(2)
  expect(await printed()).toHaveLength(2)
  expect(await readFromScreen()).toEqual([codes[0], codes[1]].sort())
  const at = await page.evaluate(() => {
    const paper = document.querySelector(".label-page")!.getBoundingClientRect()
    const first = document.querySelector(".label-page g")!.getBoundingClientRect()
    return { x: ((first.x - paper.x) / paper.width) * 210, y: ((first.y - paper.y) / paper.height) * 297 }
  })
  // the 23rd of 24 stands in the eighth row, second column: 70 mm and 0.5 + 7 × 37 mm, and the label's own edge
  expect(at.x).toBeGreaterThan(70)
  expect(at.x).toBeLessThan(75)
  expect(at.y).toBeGreaterThan(259)
  expect(at.y).toBeLessThan(264)
})

test("a full sheet of labels reads back, every one", async () => {
  await show({ codes: codes.slice(0, 24).join(","), format: "a4" })
  expect(await readFromScreen()).toEqual(codes.slice(0, 24).sort())
})

test("a photographed label leads to its container, read by the page's own reader", async () => {
  await show({ codes: codes[5]!, format: "29x90" })
  const picture = await page.locator(".label-page").first().screenshot()
  const other = await (await phone(browser, here.url)).newPage()
  await other.goto(`/receive?delivery=${deliveryId}`)
  await other
    .locator("[data-photo]")
    .setInputFiles({ name: "label.png", mimeType: "image/png", buffer: picture })
  await other.locator("[data-panel] h2", { hasText: codes[5]! }).waitFor({ timeout: 30_000 })
  await other.context().close()
})

test("a shelf's label reads back as that shelf", async () => {
  await show({ place: "Shelf 2, left", format: "62" })
  expect(await readFromScreen()).toEqual(["PLACE:Shelf 2, left"])
})

test("the format chosen last is taken again on this device", async () => {
  await show({ codes: codes[0]! })
  await page.getByLabel("Printed on").selectOption("40x30")
  await page.waitForURL(/format=40x30/)
  await page.goto(`/labels?codes=${codes[1]}`)
  await page.waitForURL(/format=40x30/)
  expect(await page.locator(".label-page").getAttribute("width")).toBe("40mm")
})
