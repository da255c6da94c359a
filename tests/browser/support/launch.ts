import { type Browser, type BrowserContext, chromium } from "playwright-core"
import { findBrowser } from "../find-browser.ts"

const QUIET = [
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
]

/**
 * Starts the browser, headless.
 *
 * @param options.y4m film its camera shows (`fakeCamera`); without one there is no camera to find
 * @throws when there is no browser: `ensure-browser.ts` says what to do
 */
export async function launch(options: { y4m?: string } = {}): Promise<Browser> {
  const executablePath = await findBrowser()
  if (executablePath === null) throw new Error("No browser: run tests/browser/ensure-browser.ts first.")
  const film =
    options.y4m === undefined
      ? []
      : [
          "--use-fake-ui-for-media-stream",
          "--use-fake-device-for-media-stream",
          `--use-file-for-fake-video-capture=${options.y4m}`,
        ]
  return chromium.launch({ executablePath, headless: true, args: [...QUIET, ...film] })
}

/** A phone held upright that may use the camera. */
export function phone(browser: Browser, url: string): Promise<BrowserContext> {
  return browser.newContext({
    baseURL: url,
    viewport: { width: 390, height: 844 },
    hasTouch: true,
    permissions: ["camera"],
  })
}
