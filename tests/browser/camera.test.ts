import type { Browser, Page } from "playwright-core"
import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { historyRoutes } from "../../server/history/routes.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import type { Listening } from "../http/listening.ts"
import { listenWith } from "../http/some-rooms.ts"
import { bottleWithCode, deliveryFrom } from "../support/receiving-fixtures.ts"
import { testStudio } from "../support/studio.ts"
import { bench, fakeCamera, photoOf } from "./support/fake-camera.ts"
import { launch, phone } from "./support/launch.ts"

const JAR = { bcid: "ean13", text: "9521234500018" }
const WAY_OUT = "Use a photo, or type the code."
const NOT_HERE = `The camera only works when this page is opened as http://127.0.0.1 or over https. ${WAY_OUT}`

let browser: Browser
let here: Listening
let page: Page

beforeAll(async () => {
  const studio = testStudio()
  bottleWithCode(studio, "Glitter", [JAR.text])
  deliveryFrom(studio, "Harbour Supply")
  here = await listenWith(studio, [receivingRoutes, historyRoutes])
  browser = await launch({ y4m: await fakeCamera([await bench(), await photoOf(JAR)]) })
})
afterAll(async () => {
  await browser?.close()
  await here?.close()
})
beforeEach(async () => {
  page = await (await phone(browser, here.url)).newPage()
  return () => page.context().close()
})

describe("a camera that cannot be used is told in a sentence, and the code comes in another way", () => {
  test.each([
    {
      why: "it is not allowed",
      name: "NotAllowedError",
      says: `The camera may not be used: allow it beside the page's address, then try again. ${WAY_OUT}`,
    },
    { why: "there is none", name: "NotFoundError", says: `No camera was found. ${WAY_OUT}` },
    {
      why: "another program uses it",
      name: "NotReadableError",
      says: `The camera is in use by something else: close that, then try again. ${WAY_OUT}`,
    },
    { why: "the browser forbids it here", name: "SecurityError", says: NOT_HERE },
    { why: "nobody knows why", name: "TypeError", says: `The camera did not start. ${WAY_OUT}` },
  ])("$why", async ({ name, says }) => {
    await page.addInitScript((kind) => {
      navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException("stub", kind))
    }, name)
    await page.goto("/receive")
    await page.locator("[data-status]", { hasText: says }).waitFor()
    expect(await page.locator("[data-view]").isVisible()).toBe(false)
    await otherWaysWork()
  })

  test.each([
    {
      why: "the page has no camera to give",
      take: () => Object.defineProperty(Navigator.prototype, "mediaDevices", { get: () => undefined }),
    },
    {
      why: "the page is not secure",
      take: () => Object.defineProperty(window, "isSecureContext", { get: () => false }),
    },
  ])("$why", async ({ take }) => {
    await page.addInitScript(take)
    await page.goto("/receive")
    await page.locator("[data-status]", { hasText: NOT_HERE }).waitFor()
    await otherWaysWork()
  })
})

test("once it is allowed, the button starts it and the sentence goes", async () => {
  await page.addInitScript(() => {
    const real = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices)
    let times = 0
    navigator.mediaDevices.getUserMedia = (asked) => {
      times += 1
      return times === 1 ? Promise.reject(new DOMException("stub", "NotAllowedError")) : real(asked)
    }
  })
  await page.goto("/receive")
  await page.locator("[data-status]", { hasText: "The camera may not be used" }).waitFor()
  await page.getByRole("button", { name: "Scan with the camera" }).click()
  await page.locator("[data-status]").waitFor({ state: "hidden" })
  expect(await page.locator("[data-view]").isVisible()).toBe(true)
  await reads()
})

test("a camera that stops while it scans is told, and started again with the button", async () => {
  await page.goto("/receive")
  await page.locator("[data-view]").waitFor()
  await expect.poll(() => trackState()).toBe("live")
  await page.evaluate(() => {
    const video = document.querySelector<HTMLVideoElement>("[data-video]")!
    const [track] = (video.srcObject as MediaStream).getVideoTracks()
    // what the browser does when the camera is unplugged
    track!.stop()
    track!.dispatchEvent(new Event("ended"))
  })
  await page.locator("[data-status]", { hasText: "The camera stopped: it was unplugged" }).waitFor()
  expect(await page.locator("[data-view]").isVisible()).toBe(false)
  await page.getByRole("button", { name: "Scan with the camera" }).click()
  await reads()
})

test("out of sight the camera is off, and back in sight it reads on", async () => {
  await page.goto("/receive")
  await expect.poll(() => trackState()).toBe("live")
  const before = await page.evaluateHandle(() => {
    const video = document.querySelector<HTMLVideoElement>("[data-video]")!
    return (video.srcObject as MediaStream).getVideoTracks()[0]!
  })
  await putOutOfSight(true)
  await expect.poll(() => before.evaluate((track) => track.readyState)).toBe("ended")
  await expect.poll(() => trackState()).toBe("none")
  expect(await page.locator("[data-status]").isVisible()).toBe(false)
  await putOutOfSight(false)
  await expect.poll(() => trackState()).toBe("live")
  await reads()
})

/** The typed code and the photo lead to the same panel. */
async function otherWaysWork(): Promise<void> {
  await page.getByLabel("Or type the code").fill(JAR.text)
  await page.getByRole("button", { name: "Look it up" }).click()
  await panelShows()
  await page.getByRole("button", { name: "Not now" }).click()
  const buffer = await photoOf(JAR, {}, 1200, 900)
  await page.locator("[data-photo]").setInputFiles({ name: "label.png", mimeType: "image/png", buffer })
  await panelShows()
}

function panelShows(): Promise<void> {
  return page.locator("[data-panel] h2", { hasText: "Glitter pack" }).waitFor()
}

/** The film shows the jar every few seconds. */
async function reads(): Promise<void> {
  await expect.poll(() => trackState()).toBe("live")
  await panelShows()
}

function trackState(): Promise<string> {
  return page.evaluate(() => {
    const { srcObject } = document.querySelector<HTMLVideoElement>("[data-video]")!
    return srcObject instanceof MediaStream ? (srcObject.getVideoTracks()[0]?.readyState ?? "none") : "none"
  })
}

/** As when another tab or program comes to the front: a browser without a window has no front. */
async function putOutOfSight(hidden: boolean): Promise<void> {
  await page.evaluate((is) => {
    Object.defineProperty(document, "hidden", { configurable: true, get: () => is })
    document.dispatchEvent(new Event("visibilitychange"))
  }, hidden)
}
