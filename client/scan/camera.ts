import { BrowserCodeReader, type IScannerControls } from "@zxing/browser"
import { HINTS, type Scan, scanOf } from "./codes.ts"
import { SupplyCodeReader } from "./reader.ts"

/** A running camera. */
export interface Camera {
  stop: () => void
  /** null when it has none */
  light: ((on: boolean) => Promise<void>) | null
}

const ASKED: MediaStreamConstraints = {
  // the one on the back, where there are two; sharp enough for fine bars
  video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } },
}

/**
 * Shows the camera in `video` and calls back with everything it reads, many times a second.
 *
 * @param onLost told once when the picture ends without `stop`: unplugged, or the permission taken back
 * @throws {CameraProblem} a sentence with the way out
 */
export async function startCamera(
  video: HTMLVideoElement,
  onScan: (scan: Scan) => void,
  onLost: (problem: CameraProblem) => void,
): Promise<Camera> {
  if (!window.isSecureContext || navigator.mediaDevices === undefined) throw new CameraProblem(NOT_HERE)
  const reader = new BrowserCodeReader(new SupplyCodeReader(), HINTS, {
    delayBetweenScanAttempts: 120,
    delayBetweenScanSuccess: 200,
  })
  try {
    const controls: IScannerControls = await reader.decodeFromConstraints(ASKED, video, (result) => {
      const scan = result ? scanOf(result) : null
      if (scan !== null) onScan(scan)
    })
    // where it has a light, the library puts it out after the picture has ended, which fails
    const stop = () => void Promise.resolve(controls.stop()).catch(() => {})
    // told by the browser alone, never after our own `stop`
    trackOf(video)?.addEventListener("ended", () => {
      stop()
      onLost(new CameraProblem(LOST))
    })
    return { stop, light: controls.switchTorch ?? null }
  } catch (error) {
    throw new CameraProblem(sentenceFor(error), { cause: error })
  }
}

function trackOf(video: HTMLVideoElement): MediaStreamTrack | undefined {
  return video.srcObject instanceof MediaStream ? video.srcObject.getVideoTracks()[0] : undefined
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
