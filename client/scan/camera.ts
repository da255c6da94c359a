import { BrowserCodeReader } from "@zxing/browser"
import type { Sighting } from "./codes.ts"
import { watch } from "./frames.ts"
import { chooseLens, lensAfter, lensChosen, lenses } from "./lenses.ts"
import { readerThread } from "./thread.ts"

/** A running camera. */
export interface Camera {
  stop: () => void
  /** null when it has none */
  light: ((on: boolean) => Promise<void>) | null
  /** the lens to change to, null when there is only one: choosing it holds from the next start on */
  otherLens: (() => void) | null
}

/** Sharp enough for fine bars. */
const SHARP = { width: { ideal: 1280 }, height: { ideal: 720 } } as const

/**
 * Shows the camera in `video` and calls back with everything it reads, many times a second.
 *
 * @param onLost told once when the picture ends without `stop`: unplugged, or the permission taken back
 * @throws {CameraProblem} a sentence with the way out
 */
export async function startCamera(
  video: HTMLVideoElement,
  onScan: (scan: Sighting) => void,
  onLost: (problem: CameraProblem) => void,
): Promise<Camera> {
  if (!window.isSecureContext || navigator.mediaDevices === undefined) throw new CameraProblem(NOT_HERE)
  // asked for now, so that it is there when the first picture is
  readerThread()
  let stream: MediaStream | undefined
  try {
    stream = await open()
    const track = stream.getVideoTracks()[0]!
    const lost = whenLost(track)
    BrowserCodeReader.prepareVideoElement(video)
    BrowserCodeReader.addVideoSource(video, stream)
    const ready = Promise.all([lenses(), keepFocus(track), video.play()])
    const [all] = await Promise.race([ready, lost])
    const stopWatching = watch(video, readerThread, onScan)
    const stop = () => {
      stopWatching()
      track.stop()
      BrowserCodeReader.cleanVideoSource(video)
    }
    lost.catch((problem: CameraProblem) => {
      stop()
      onLost(problem)
    })
    const other = all.length > 1 ? lensAfter(all, track.getSettings().deviceId) : null
    return {
      stop,
      light: hasLight(track) ? (on) => BrowserCodeReader.mediaStreamSetTorch(track, on) : null,
      otherLens: other && (() => chooseLens(other.id)),
    }
  } catch (error) {
    for (const track of stream?.getTracks() ?? []) track.stop()
    throw error instanceof CameraProblem ? error : new CameraProblem(sentenceFor(error), { cause: error })
  }
}

/** Refuses when the browser ends the picture, as early as while it starts; never after our own `stop`. */
function whenLost(track: MediaStreamTrack): Promise<never> {
  return new Promise((_, refuse) => {
    track.addEventListener("ended", () => refuse(new CameraProblem(LOST)))
  })
}

/** The lens chosen last, where it is still there; else the one on the back, where there are two. */
async function open(): Promise<MediaStream> {
  const chosen = lensChosen()
  if (chosen !== null) {
    try {
      return await navigator.mediaDevices.getUserMedia({ video: { ...SHARP, deviceId: { exact: chosen } } })
    } catch (error) {
      if (!(error instanceof Error) || !GONE.includes(error.name)) throw error
      chooseLens(null)
    }
  }
  return navigator.mediaDevices.getUserMedia({ video: { ...SHARP, facingMode: { ideal: "environment" } } })
}

const GONE = ["OverconstrainedError", "NotFoundError"]

/** What phones can do beyond what every browser's types know (W3C Image Capture). */
interface More {
  focusMode?: readonly string[]
  torch?: boolean
}

function abilities(track: MediaStreamTrack): More {
  return typeof track.getCapabilities === "function" ? (track.getCapabilities() as More) : {}
}

function hasLight(track: MediaStreamTrack): boolean {
  return abilities(track).torch === true
}

/** Keeps looking for the sharpest picture, where the lens can. */
async function keepFocus(track: MediaStreamTrack): Promise<void> {
  if (!abilities(track).focusMode?.includes("continuous")) return
  const focus: MediaTrackConstraintSet & { focusMode: string } = { focusMode: "continuous" }
  // some say they can and cannot
  await track.applyConstraints({ advanced: [focus] }).catch(() => {})
}

/** Whether the camera may be started without a question popping up. */
export async function cameraIsAllowed(): Promise<boolean> {
  try {
    return (await navigator.permissions.query({ name: "camera" as PermissionName })).state === "granted"
  } catch {
    return false
  }
}

/** Why there is no picture, in one sentence. */
export class CameraProblem extends Error {
  override readonly name = "CameraProblem"
}

const WAY_OUT = "Use a photo, or type the code."
const LOST = `The camera stopped: it was unplugged, or it may not be used any more. Start it again. ${WAY_OUT}`
const NOT_HERE = `The camera only works when this page is opened as http://127.0.0.1 or over https. ${WAY_OUT}`

/** What getUserMedia throws, by name (W3C Media Capture and Streams). */
function sentenceFor(error: unknown): string {
  switch (error instanceof Error ? error.name : "") {
    case "NotAllowedError":
      return `The camera may not be used: allow it beside the page's address, then try again. ${WAY_OUT}`
    case "NotFoundError":
    case "OverconstrainedError":
      return `No camera was found. ${WAY_OUT}`
    case "NotReadableError":
    case "AbortError":
      return `The camera is in use by something else: close that, then try again. ${WAY_OUT}`
    case "SecurityError":
      return NOT_HERE
    default:
      return `The camera did not start. ${WAY_OUT}`
  }
}
