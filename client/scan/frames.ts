import { BrowserCodeReader } from "@zxing/browser"
import { isFlat, isRight, type Sighting } from "./codes.ts"
import { readingOf } from "./first-engine.ts"
import { SupplyCodeReader } from "./reader.ts"
import type { ReaderThread } from "./thread.ts"

/** Between two frames, where the browser does not tell when there is a new one. */
const FRAME_MS = 66
/** The page's own look: at most this part of its time, so that nothing on it is held up. */
const OWN_SHARE = 0.05
/** And where it is the only one that reads. */
const ALONE_SHARE = 0.4
/** How wide a picture the page looks at itself, in pixels. */
const OWN_WIDTH = 640
const ALONE_WIDTH = 1000

/**
 * Calls back with everything that is read in a video, many times a second. Each frame goes to the reader's thread;
 * while that is getting ready, or busy, the page has a first look at it itself, and otherwise lets it go.
 *
 * @returns a way to stop
 */
export function watch(
  video: HTMLVideoElement,
  threadNow: () => ReaderThread | null,
  onScan: (scan: Sighting) => void,
): () => void {
  let watching = true
  const own = new OwnLook()
  const next = () => {
    if (!watching) return
    if (typeof video.requestVideoFrameCallback === "function") video.requestVideoFrameCallback(look)
    else setTimeout(look, FRAME_MS)
  }
  const tell = (scan: Sighting) => {
    if (watching) onScan(scan)
  }
  const look = () => {
    if (!watching) return
    next()
    if (video.readyState < HTMLMediaElement.HAVE_CURRENT_DATA || video.videoWidth === 0) return
    const thread = threadNow()
    if (thread !== null && !thread.isBusy) void send(video, thread, tell)
    else {
      const seen = own.at(video, thread === null)
      if (seen !== null) tell(seen)
    }
  }
  next()
  return () => {
    watching = false
  }
}

async function send(
  video: HTMLVideoElement,
  thread: ReaderThread,
  tell: (scan: Sighting) => void,
): Promise<void> {
  try {
    const { scans } = await thread.readFrame(() => createImageBitmap(video))
    for (const scan of scans) tell(scan)
  } catch {
    // the camera was stopped in between, or the thread failed, which it remembers itself
  }
}

/** The first engine, on the page: quick and seldom beside the second, thorough without it. */
class OwnLook {
  readonly #canvas = document.createElement("canvas")
  readonly #quick = new BrowserCodeReader(new SupplyCodeReader("quick"))
  readonly #thorough = new BrowserCodeReader(new SupplyCodeReader("thorough"))
  #notBefore = 0

  at(video: HTMLVideoElement, alone: boolean): Sighting | null {
    const began = performance.now()
    if (began < this.#notBefore) return null
    const width = Math.min(video.videoWidth, alone ? ALONE_WIDTH : OWN_WIDTH)
    const height = Math.round((video.videoHeight * width) / video.videoWidth)
    if (this.#canvas.width !== width || this.#canvas.height !== height)
      Object.assign(this.#canvas, { width, height })
    this.#canvas.getContext("2d", { willReadFrequently: true })?.drawImage(video, 0, 0, width, height)
    try {
      const reader = alone ? this.#thorough : this.#quick
      const seen = readingOf(reader.decodeFromCanvas(this.#canvas))
      if (seen === null || !isRight(seen)) return null
      // a single line of bars may be wrong
      return { code: seen.code, symbology: seen.symbology, sure: isFlat(seen) }
    } catch {
      // how the library says that nothing was found
      return null
    } finally {
      const now = performance.now()
      this.#notBefore = now + (now - began) / (alone ? ALONE_SHARE : OWN_SHARE)
    }
  }
}
