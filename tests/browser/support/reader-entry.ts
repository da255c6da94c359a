import wasm from "zxing-wasm/reader/zxing_reader.wasm"
import type { Sighting } from "../../../client/scan/codes.ts"
import { readFirst } from "../../../client/scan/first-engine.ts"
import { greyOf } from "../../../client/scan/picture.ts"
import { prepareSecond, readSecond } from "../../../client/scan/second-engine.ts"
import { type Read, ReaderThread } from "../../../client/scan/thread.ts"

/** What a page of the tests offers: each engine alone, and all of them together in the reader's own thread. */
export type Engine = "first" | "second" | "frame" | "photo"

export interface Answer {
  scans: Sighting[]
  ms: number
}

declare const READER_WORKER: string

const thread = new ReaderThread(READER_WORKER)
const second = prepareSecond(wasm)
const canvas = new OffscreenCanvas(1, 1)

async function read(address: string, engine: Engine): Promise<Answer> {
  const picture = await createImageBitmap(await (await fetch(address)).blob())
  switch (engine) {
    case "frame":
      return copyOf(await thread.readFrame(async () => picture))
    case "photo":
      return copyOf(await thread.readPhoto(picture))
    case "first":
    case "second": {
      await second
      const grey = greyIn(picture)
      const began = performance.now()
      const readings = engine === "first" ? readFirst(grey) : await readSecond(grey, { inverted: true })
      const scans = readings.map(({ code, symbology }) => ({ code, symbology, sure: true }))
      return { scans, ms: performance.now() - began }
    }
  }
}

function copyOf({ scans, ms }: Read): Answer {
  return { scans: [...scans], ms }
}

function greyIn(picture: ImageBitmap) {
  canvas.width = picture.width
  canvas.height = picture.height
  const context = canvas.getContext("2d", { willReadFrequently: true })
  if (context === null) throw new Error("no canvas")
  context.drawImage(picture, 0, 0)
  picture.close()
  return greyOf(context.getImageData(0, 0, canvas.width, canvas.height))
}

Object.assign(window, { read })
