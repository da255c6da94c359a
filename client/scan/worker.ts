import wasm from "zxing-wasm/reader/zxing_reader.wasm"
import { CombinedReader } from "./combined.ts"
import { browsersOwn } from "./detector.ts"
import type { Asked, Told } from "./errand.ts"
import { greyOf } from "./picture.ts"
import { prepareSecond } from "./second-engine.ts"

/**
 * The reader's own thread, so that the page never waits for it. Gets pictures, tells what is in them, one at a
 * time; what it asks for is only ever its own machine code, from here.
 */
const ready = Promise.all([prepareSecond(wasm), browsersOwn()]).then(([, own]) => new CombinedReader(own))
// kept, so that a hundred scans ask for as much room as one
const canvas = new OffscreenCanvas(1, 1)
const context = canvas.getContext("2d", { willReadFrequently: true })

self.addEventListener("message", async ({ data: { id, picture, from } }: MessageEvent<Asked>) => {
  let isReady = false
  try {
    const reader = await ready
    isReady = true
    const began = performance.now()
    const scans = await reader[from](greyIn(picture), picture)
    tell({ id, scans, ms: performance.now() - began })
  } catch (error) {
    tell({ id, failed: String(error), forGood: !isReady })
  } finally {
    picture.close()
  }
})
// told with each picture
ready.catch(() => {})

function tell(told: Told): void {
  self.postMessage(told)
}

function greyIn(picture: ImageBitmap) {
  if (context === null) throw new Error("no room to draw in")
  const { width, height } = picture
  if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height })
  context.drawImage(picture, 0, 0)
  return greyOf(context.getImageData(0, 0, width, height))
}
