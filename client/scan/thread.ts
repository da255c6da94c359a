import type { Sighting } from "./codes.ts"
import type { Asked, Told } from "./errand.ts"

/** The address of the reader's thread, put in when the page is built. */
declare const READER_WORKER: string

/** What came of a picture, and how long it took over there. */
export interface Read {
  scans: readonly Sighting[]
  ms: number
}

/** The page's end of the reader's thread. */
export class ReaderThread {
  readonly #worker: Worker
  readonly #waiting = new Map<number, { done: (read: Read) => void; failed: (why: Error) => void }>()
  #asked = 0
  #hasFrame = false
  #hasFailed = false

  constructor(address: string) {
    this.#worker = new Worker(address, { type: "module" })
    this.#worker.addEventListener("message", ({ data }: MessageEvent<Told>) => this.#told(data))
    this.#worker.addEventListener("error", (event) => this.#fail(event.message || "the reader did not start"))
  }

  /** Whether it has a picture in hand: a camera's frame is then let go, not kept waiting. */
  get isBusy(): boolean {
    return this.#hasFrame || this.#waiting.size > 0
  }

  /** It could not be started, or broke: the first engine has to read alone. */
  get hasFailed(): boolean {
    return this.#hasFailed
  }

  /** Reads a frame of the camera, for a part of a second at most. @throws when it fails */
  async readFrame(take: () => Promise<ImageBitmap>): Promise<Read> {
    this.#hasFrame = true
    try {
      return await this.#read(await take(), "frame")
    } finally {
      this.#hasFrame = false
    }
  }

  /** Reads a photo, for some seconds at most. @param photo given away: it cannot be used afterwards. @throws when it fails */
  readPhoto(photo: ImageBitmap): Promise<Read> {
    return this.#read(photo, "photo")
  }

  #read(picture: ImageBitmap, from: Asked["from"]): Promise<Read> {
    const id = ++this.#asked
    return new Promise((done, failed) => {
      if (this.#hasFailed) return failed(new Error("the reader has stopped"))
      this.#waiting.set(id, { done, failed })
      this.#worker.postMessage({ id, picture, from } satisfies Asked, [picture])
    })
  }

  #told(told: Told): void {
    const asker = this.#waiting.get(told.id)
    this.#waiting.delete(told.id)
    if ("failed" in told) {
      asker?.failed(new Error(told.failed))
      if (told.forGood) this.#fail(told.failed)
    } else asker?.done(told)
  }

  #fail(why: string): void {
    this.#hasFailed = true
    this.#worker.terminate()
    for (const { failed } of this.#waiting.values()) failed(new Error(why))
    this.#waiting.clear()
  }
}

let thread: ReaderThread | null = null

/** The page's one reader's thread; null where there can be none. */
export function readerThread(): ReaderThread | null {
  if (typeof OffscreenCanvas === "undefined" || typeof WebAssembly === "undefined") return null
  thread ??= new ReaderThread(READER_WORKER)
  return thread.hasFailed ? null : thread
}
