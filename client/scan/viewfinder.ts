import { type Camera, CameraProblem, cameraIsAllowed, startCamera } from "./camera.ts"
import type { Sighting } from "./codes.ts"

/** The parts of the page around the camera's picture. */
interface Parts {
  /** holds the picture; hidden while there is none */
  view: HTMLElement
  video: HTMLVideoElement
  /** starts it, the first time and after every failure */
  button: HTMLButtonElement
  /** hidden where the camera has none */
  light: HTMLButtonElement
  /** hidden where there is only one */
  lens: HTMLButtonElement
}

/** Says a sentence of the camera, and takes its own away again, never another's. */
interface Speaker {
  say(sentence: string): void
  takeBack(sentence: string): void
}

/**
 * The camera's picture on the page: asked for once with the button, from then on there when the page opens. It
 * stops while the page is out of sight and goes on when it is back. Whatever fails is said in a sentence, and the
 * button is there to try again.
 */
export function useViewfinder(parts: Parts, speaker: Speaker, onScan: (scan: Sighting) => void): void {
  let camera: Camera | null = null
  /** whether there is to be a picture while the page is in sight */
  let isOn = false
  let isStarting = false
  let isLit = false
  let said = ""

  const failed = (problem: CameraProblem) => {
    camera = null
    isOn = false
    show(false)
    said = problem.message
    speaker.say(said)
  }
  const show = (picture: boolean) => {
    parts.view.hidden = !picture
    parts.button.hidden = picture
    parts.light.hidden = !picture || camera === null || camera.light === null
    parts.lens.hidden = !picture || camera === null || camera.otherLens === null
  }
  const pause = () => {
    camera?.stop()
    camera = null
    isLit = false
  }
  const start = async () => {
    if (isStarting || camera !== null || document.hidden) return
    isOn = true
    isStarting = true
    parts.button.disabled = true
    // a picture that is not shown does not play
    parts.view.hidden = false
    try {
      camera = await startCamera(parts.video, onScan, failed)
      show(true)
      speaker.takeBack(said)
      // the page may have been left while the camera was waking up
      if (document.hidden) pause()
    } catch (error) {
      if (!(error instanceof CameraProblem)) throw error
      failed(error)
    } finally {
      isStarting = false
      parts.button.disabled = false
    }
  }

  parts.button.addEventListener("click", () => void start())
  parts.light.addEventListener("click", () => {
    isLit = !isLit
    void camera?.light?.(isLit)
  })
  parts.lens.addEventListener("click", () => {
    if (camera?.otherLens == null) return
    camera.otherLens()
    pause()
    void start()
  })
  const lookAgain = () => {
    if (document.hidden) pause()
    else if (isOn) void start()
  }
  document.addEventListener("visibilitychange", lookAgain)
  window.addEventListener("pagehide", pause)
  // back from another page that was gone to
  window.addEventListener("pageshow", lookAgain)

  void cameraIsAllowed().then((allowed) => {
    if (allowed) void start()
  })
}
