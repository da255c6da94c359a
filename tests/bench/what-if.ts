import type { Page } from "playwright-core"
import { launch } from "../browser/support/launch.ts"
import { demoHouse, wholeApp } from "../support/demo-studio.ts"
import { type Line, median } from "./measure.ts"

const WARM_UP = 5
const CHANGES = 40

/**
 * One number changed on the demo's page in a real browser: from the stroke of the key until the new answer stands on
 * the page and is laid out; against the same page merely fetching its style sheet from the same server.
 */
export async function changingOnPage(): Promise<(Line | string)[]> {
  const house = demoHouse()
  const { here } = await wholeApp(house)
  const browser = await launch()
  try {
    const page = await browser.newPage()
    await page.goto(`${here.url}/what-if`)
    const changes: number[] = []
    const fetches: number[] = []
    for (let nth = 0; nth < WARM_UP + CHANGES; nth++) {
      const change = await changeMs(page, 20 + (nth % 21))
      const fetched = await fetchMs(page)
      if (nth < WARM_UP) continue
      changes.push(change)
      fetches.push(fetched)
    }
    const slow = changes.toSorted((a, b) => a - b)[Math.floor(CHANGES * 0.95)]!
    return [
      {
        name: "what if: one number changed, on the page in Chromium",
        value: median(changes),
        unit: "ms",
        floor: median(fetches),
        aim: { value: 100 },
      },
      `  19 of 20 within ${slow.toFixed(0)} ms`,
    ]
  } finally {
    await browser.close()
    await here.close()
    house.close()
  }
}

function changeMs(page: Page, quantity: number): Promise<number> {
  return page.evaluate(async (value) => {
    const field = document.querySelector<HTMLInputElement>('#what-if [name="lines[0][quantity]"]')!
    const before = document.querySelector("#what-it-does")!
    const began = performance.now()
    field.value = String(value)
    field.dispatchEvent(new Event("input", { bubbles: true }))
    await new Promise<void>((resolve) => {
      new MutationObserver((_, watcher) => {
        if (before.isConnected) return
        watcher.disconnect()
        resolve()
      }).observe(before.parentElement!, { childList: true })
    })
    // laid out, as somebody would see it
    document.querySelector("#what-it-does")!.getBoundingClientRect()
    return performance.now() - began
  }, quantity)
}

function fetchMs(page: Page): Promise<number> {
  return page.evaluate(async () => {
    const styles = document.querySelector<HTMLLinkElement>('link[rel="stylesheet"]')!.href
    const began = performance.now()
    await (await fetch(styles, { cache: "no-store" })).text()
    return performance.now() - began
  })
}
