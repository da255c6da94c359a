import type { Browser, Page } from "playwright-core"
import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { gtinCheckDigit } from "../../server/domain/gs1.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import type { Listening } from "../http/listening.ts"
import { listenWith } from "../http/some-rooms.ts"
import { bottleWithCode, deliveryFrom, kitWithCode } from "../support/receiving-fixtures.ts"
import { type TestStudio, testStudio } from "../support/studio.ts"
import { bench, type Drawn, fakeCamera, photoOf } from "./support/fake-camera.ts"
import { launch, phone } from "./support/launch.ts"

const withCheckDigit = (body: string) => body + gtinCheckDigit(body)

/** One code of each kind, drawn by bwip-js, an independent writer. */
const CODES: Record<string, Drawn> = {
  "EAN-13": { bcid: "ean13", text: withCheckDigit("952123450001") },
  // 2…: restricted circulation inside one company, since an EAN-8 has no prefix for examples
  "EAN-8": { bcid: "ean8", text: withCheckDigit("2345678") },
  "UPC-A": { bcid: "upca", text: withCheckDigit("41234567000") },
  // the example of a scanner maker's manual: 123456 in number system 0
  "UPC-E": { bcid: "upce", text: "01234565" },
  "Code 128": { bcid: "code128", text: "SHELF-0128" },
  DataMatrix: { bcid: "datamatrix", text: "GLITTER/77-B" },
  QR: { bcid: "qrcode", text: "https://kit.example/a?b=<i>1</i>&c=2" },
}
/** What the UPC-E above stands for (the same manual). */
const UPC_E_EXPANDED = "012345000065"

function studioWithAll(): TestStudio {
  const studio = testStudio()
  for (const [symbology, { text }] of Object.entries(CODES))
    bottleWithCode(studio, symbology, [symbology === "UPC-E" ? UPC_E_EXPANDED : text])
  deliveryFrom(studio, "Harbour Supply")
  return studio
}

let browser: Browser
let here: Listening
let studio: TestStudio

async function openAt(url: string, over: Browser = browser): Promise<Page> {
  const page = await (await phone(over, url)).newPage()
  page.on("pageerror", (error) => {
    throw error
  })
  await page.goto("/receive")
  return page
}

function panelOf(page: Page) {
  return page.locator("[data-panel]")
}

function received(): string[] {
  return onHand(studio.file, "America/Chicago").map((one) => one.supply)
}

describe("the camera", () => {
  beforeAll(async () => {
    const pictures = [await bench()]
    for (const drawn of Object.values(CODES))
      pictures.push(await photoOf(drawn, { blurSigma: 0.6, light: 0.85 }))
    browser = await launch({ y4m: await fakeCamera(pictures) })
    studio = studioWithAll()
    here = await listenWith(studio, [receivingRoutes, historyRoutes])
  })
  afterAll(async () => {
    await browser.close()
    await here.close()
  })

  test("reads all seven kinds of code, one after the other, without leaving the page", async () => {
    const page = await openAt(here.url)
    let loads = 0
    page.on("load", () => loads++)
    const names = Object.keys(CODES)
    for (const until = Date.now() + 90_000; received().length < names.length && Date.now() < until; ) {
      const heading = panelOf(page).locator("h2").first()
      await heading.waitFor({ timeout: 30_000 })
      const name = (await heading.textContent())!.replace(/ pack$/, "")
      expect(names).toContain(name)
      if (received().includes(name)) {
        await page.getByRole("button", { name: "Not now" }).click()
        continue
      }
      await page.getByLabel("None printed").check()
      await page.getByLabel("Price of one pack").fill("9.50")
      await page.getByRole("button", { name: "Take it in" }).click()
      await page.locator("[data-notice]", { hasText: `${name} pack received` }).waitFor()
      expect(await page.locator(".line").count()).toBe(received().length)
    }
    expect(received().toSorted()).toEqual(names.toSorted())
    expect(loads).toBe(0)
    await page.context().close()
  }, 150_000)
})

describe("without a camera", () => {
  beforeAll(async () => {
    browser = await launch()
  })
  afterAll(() => browser.close())
  beforeEach(async () => {
    studio = studioWithAll()
    here = await listenWith(studio, [receivingRoutes, historyRoutes])
    return () => here.close()
  })

  /** As a hand-held scanner does: quick keys, then Enter, wherever the page's focus is. */
  async function shoot(page: Page, code: string) {
    const keyboard = await page.context().newCDPSession(page)
    const keys = [...code].map((key) => ({ key, text: key }))
    const enter = { key: "Enter", code: "Enter", text: "\r", windowsVirtualKeyCode: 13 }
    // the times are the scanner's own: a busy machine that handles the keys late does not change them
    const started = Date.now() / 1000
    for (const [index, one] of [...keys, enter].entries()) {
      const timestamp = started + index * 0.01
      await keyboard.send("Input.dispatchKeyEvent", { type: "keyDown", timestamp, ...one })
      await keyboard.send("Input.dispatchKeyEvent", { type: "keyUp", timestamp, key: one.key })
    }
    await keyboard.detach()
  }

  test("the page says so and what to do", async () => {
    const page = await openAt(here.url)
    await page
      .locator("[data-status]", { hasText: "No camera was found. Use a photo, or type the code." })
      .waitFor()
    await page.context().close()
  })

  test("a hand-held scanner opens the thing without touching a field, again after saving", async () => {
    const page = await openAt(here.url)
    await shoot(page, CODES["EAN-13"]!.text)
    await panelOf(page).locator("h2", { hasText: "EAN-13 pack" }).waitFor()
    await page.getByRole("button", { name: "One more" }).click()
    await page.getByRole("textbox", { name: "Lot number" }).fill("L-9")
    await page.getByLabel("Price of one pack").fill("9.50")
    await page.getByRole("button", { name: "Take it in" }).click()
    await page.locator("[data-notice]", { hasText: "2 × EAN-13 pack received, lot L-9" }).waitFor()
    await shoot(page, CODES["Code 128"]!.text)
    await panelOf(page).locator("h2", { hasText: "Code 128 pack" }).waitFor()
    expect(received()).toEqual(["EAN-13", "EAN-13"])
    await page.context().close()
  })

  test("its Enter never presses the button that was tapped last", async () => {
    const page = await openAt(here.url)
    await shoot(page, CODES["EAN-13"]!.text)
    await page.getByRole("button", { name: "One more" }).click()
    await shoot(page, CODES["Code 128"]!.text)
    await page.locator("[data-status]", { hasText: "First take this in or put it away" }).waitFor()
    expect(await page.getByLabel("How many came").inputValue()).toBe("2")
    await page.context().close()
  })

  test("a second scan while the first is still looked up does not put its panel over it", async () => {
    const page = await openAt(here.url)
    let answer = () => {}
    const held = new Promise<void>((resolve) => {
      answer = resolve
    })
    await page.route("**/receive/lookup?*", async (route) => {
      await held
      await route.continue()
    })
    await shoot(page, CODES["EAN-13"]!.text)
    await shoot(page, CODES["Code 128"]!.text)
    await page.locator("[data-status]", { hasText: "First take this in or put it away" }).waitFor()
    answer()
    await panelOf(page).locator("h2", { hasText: "EAN-13 pack" }).waitFor()
    await page.context().close()
  })

  test("a typed code with a wrong digit is told in sight, also with the page scrolled down to the field", async () => {
    const page = await openAt(here.url)
    await page.getByLabel("Or type the code").fill("9521234500010")
    await page.getByRole("button", { name: "Look it up" }).scrollIntoViewIfNeeded()
    await page.evaluate(() => scrollTo({ top: document.body.scrollHeight }))
    await page.getByLabel("Or type the code").press("Enter")
    const said = page.locator("[data-status]", { hasText: "The last digit should be" })
    await said.waitFor()
    const { y } = (await said.boundingBox())!
    expect(y).toBeGreaterThanOrEqual(0)
    expect(y).toBeLessThan(700)
    await page.context().close()
  })

  test("quick typing into a field stays in the field", async () => {
    const page = await openAt(here.url)
    await shoot(page, CODES["EAN-13"]!.text)
    const lot = page.getByRole("textbox", { name: "Lot number" })
    await lot.focus()
    await page.keyboard.type("FAST-FINGERS-1")
    expect(await lot.inputValue()).toBe("FAST-FINGERS-1")
    expect(await panelOf(page).locator("h2").first().textContent()).toBe("EAN-13 pack")
    await page.context().close()
  })

  test("a refused line keeps what was typed, and Undo takes a saved one back, all on the page", async () => {
    const page = await openAt(here.url)
    await shoot(page, CODES["UPC-A"]!.text)
    await page.getByRole("textbox", { name: "Lot number" }).fill("L-1")
    await page.getByLabel("Expires").fill("1 Nov 2026")
    await page.getByLabel("Price of one pack").fill("3")
    await page.getByRole("button", { name: "Take it in" }).click()
    await panelOf(page).locator(".alert", { hasText: "before it came" }).waitFor()
    expect(await page.getByRole("textbox", { name: "Lot number" }).inputValue()).toBe("L-1")
    await page.getByLabel("Expires").fill("11/2027")
    await page.getByRole("button", { name: "Take it in" }).click()
    await page.locator(".line").waitFor()
    expect(received()).toEqual(["UPC-A"])
    await page.getByRole("button", { name: "Undo: UPC-A pack" }).click()
    await page.locator(".line.undone").waitFor()
    expect(received()).toEqual([])
    await page.context().close()
  })

  test("an unknown code asks what it is and comes back to the delivery with it ready to confirm", async () => {
    const page = await openAt(here.url)
    await shoot(page, "NEW-THING-42")
    await panelOf(page).locator("h2", { hasText: "What is it?" }).waitFor()
    await panelOf(page).getByText("It is something new").click()
    await page.getByLabel("What it is").fill("Lilac mica")
    await page.getByLabel("What sort of thing", { exact: false }).first().selectOption("pigment")
    await page.getByLabel("A full one holds").fill("50 g")
    await page.getByRole("button", { name: "That is it" }).click()
    await panelOf(page).locator("h2", { hasText: "Lilac mica, 50 g" }).waitFor()
    await page.getByLabel("None printed").check()
    await page.getByLabel("Price of one pack").fill("6")
    await page.getByRole("button", { name: "Take it in" }).click()
    await page.locator(".line", { hasText: "Lilac mica" }).waitFor()
    expect(new URL(page.url()).pathname).toBe("/receive")
    await page.context().close()
  })

  test("a kit asks once for the lot of both halves, or for each", async () => {
    kitWithCode(studio, "Clear", ["KIT-77"])
    const page = await openAt(here.url)
    await shoot(page, "KIT-77")
    await panelOf(page).locator("h2", { hasText: "Clear kit" }).waitFor()
    expect(await panelOf(page).getByRole("textbox", { name: "Lot number" }).count()).toBe(1)
    await page.getByLabel("One on each").check()
    expect(await panelOf(page).getByRole("textbox", { name: "Lot number" }).count()).toBe(2)
    await page.context().close()
  })

  test.each(Object.entries(CODES))("a photo of a %s, turned a little, is read", async (symbology, drawn) => {
    const page = await openAt(here.url)
    const buffer = await photoOf(drawn, { turnDegrees: 4, share: 0.5 }, 2000, 1500)
    await page.locator("[data-photo]").setInputFiles({ name: "label.png", mimeType: "image/png", buffer })
    await panelOf(page)
      .locator("h2", { hasText: `${symbology} pack` })
      .waitFor({ timeout: 20_000 })
    await page.context().close()
  })

  test("a photo without a code, and a file that is no photo, each get a sentence", async () => {
    const page = await openAt(here.url)
    const photo = page.locator("[data-photo]")
    await photo.setInputFiles({ name: "bench.png", mimeType: "image/png", buffer: await bench() })
    await page.locator("[data-status]", { hasText: "No code was found in the photo" }).waitFor()
    await photo.setInputFiles({
      name: "notes.png",
      mimeType: "image/png",
      buffer: Buffer.from("not a picture"),
    })
    await page.locator("[data-status]", { hasText: "not a picture" }).waitFor()
    await page.context().close()
  })

  test("where no script runs, a typed code leads to the same form and is taken in", async () => {
    const context = await browser.newContext({ baseURL: here.url, javaScriptEnabled: false })
    const page = await context.newPage()
    await page.goto("/receive")
    await page.getByLabel("Or type the code").fill(CODES["EAN-13"]!.text)
    await page.getByRole("button", { name: "Look it up" }).click()
    await page.getByLabel("None printed").check()
    await page.getByLabel("Price of one pack").fill("9.50")
    await page.getByRole("button", { name: "Take it in" }).click()
    await page.locator(".toast", { hasText: "EAN-13 pack received" }).waitFor()
    expect(received()).toEqual(["EAN-13"])
    await context.close()
  })
})
