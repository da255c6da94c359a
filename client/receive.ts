import { Waiting } from "./intake/waiting.ts"
import type { Scan, Sighting } from "./scan/codes.ts"
import { Feedback } from "./scan/feedback.ts"
import { listenToKeyboard, separatorSet, setSeparator } from "./scan/keyboard.ts"
import { Panel } from "./scan/panel.ts"
import { readPhoto } from "./scan/photo.ts"
import { Sightings } from "./scan/sightings.ts"
import { useViewfinder } from "./scan/viewfinder.ts"

/** The delivery's page: camera, hand-held scanner, photo and typing all lead to one panel. */

const scan = document.querySelector<HTMLElement>("[data-scan]")
if (scan !== null) receive(scan)

function receive(room: HTMLElement): void {
  const place = <Kind extends HTMLElement>(name: string) => room.querySelector<Kind>(`[data-${name}]`) as Kind
  const panel = new Panel({
    panel: place("panel"),
    tools: place("tools"),
    status: place("status"),
    keepUnsent: (address, fields) => waiting.keep(address, fields),
  })
  const waiting = new Waiting({
    line: place("waiting"),
    onSent: () => void panel.renew(`/receive?delivery=${room.dataset.delivery}`).catch(() => {}),
    onRefused: (address, fields) => void panel.follow(address, { method: "POST", body: fields }),
    onScan: (seen) => {
      if (isBusy()) return false
      void found(seen)
      return true
    },
  })
  const sightings = new Sightings()
  const feedback = new Feedback()
  for (const shown of document.querySelectorAll<HTMLElement>("[data-needs-script]")) shown.hidden = false

  // one scan at a time: a second one would put its panel over the first
  let looking = false
  const isBusy = () => looking || panel.isOpen

  async function found({ code, symbology }: Scan, again = false): Promise<void> {
    if (isBusy()) {
      panel.say("First take this in or put it away, then scan the next.")
      return
    }
    looking = true
    const query = new URLSearchParams({ code, symbology, delivery: room.dataset.delivery ?? "" })
    try {
      const answer = await fetch(`/receive/lookup?${query}`, { headers: { Accept: "application/json" } })
      const { to, sentence } = readAnswer(await answer.json())
      if (to !== null) await panel.follow(to)
      else panel.say(sentence)
      if (to !== null && again && panel.isOpen) panel.say(AGAIN)
    } catch {
      waiting.keepScan({ code, symbology })
      panel.say("")
    } finally {
      looking = false
    }
  }

  listenToKeyboard((seen) => void found(seen))
  const onScan = (seen: Sighting) => {
    const counted = sightings.counts(seen, performance.now())
    // what is in sight while something is confirmed must not jump in afterwards
    if (counted === null || isBusy()) return
    feedback.read()
    void found(seen, counted === "again")
  }
  const parts = { view: place("view"), video: place<HTMLVideoElement>("video") }
  const button = place<HTMLButtonElement>("camera")
  const buttons = { button, light: place<HTMLButtonElement>("light"), lens: place<HTMLButtonElement>("lens") }
  useViewfinder({ ...parts, ...buttons }, panel, onScan)
  useSound(place<HTMLButtonElement>("sound"), feedback)
  useSeparator(place<HTMLInputElement>("separator"))
  usePhoto(place("photo"), panel, (seen) => {
    feedback.read()
    return found(seen)
  })
  place<HTMLFormElement>("typed").addEventListener("submit", (event) => {
    event.preventDefault()
    const field = place("typed").querySelector<HTMLInputElement>("[name=code]")
    const code = field?.value.trim() ?? ""
    if (code === "") return
    field?.blur()
    void found({ code, symbology: "typed" }).then(() => {
      if (field && panel.isOpen) field.value = ""
    })
  })
}

const AGAIN = "The same code as before: take it in only if there is one more."

/** The button that mutes the beep says what it is now. */
function useSound(button: HTMLButtonElement, feedback: Feedback): void {
  const show = () => {
    button.textContent = feedback.isMuted ? "Sound is off" : "Sound is on"
  }
  button.addEventListener("click", () => {
    feedback.mute(!feedback.isMuted)
    show()
    if (!feedback.isMuted) feedback.read()
  })
  show()
}

/** The sign that this device's hand-held scanner is set to send between the parts of a long code. */
function useSeparator(field: HTMLInputElement): void {
  field.value = separatorSet()
  field.addEventListener("input", () => setSeparator(field.value.trim()))
}

function usePhoto(input: HTMLInputElement, panel: Panel, onScan: (scan: Scan) => Promise<void>): void {
  input.addEventListener("change", async () => {
    const file = input.files?.[0]
    if (file === undefined) return
    panel.say("Reading the photo…")
    try {
      const seen = await readPhoto(file)
      panel.say("")
      if (seen !== null) await onScan(seen)
      else
        panel.say("No code was found in the photo. Go closer, with the code straight and sharp, or type it.")
    } catch {
      panel.say("That file is not a picture. Pick a photo, or type the code.")
    } finally {
      // so that the same photo can be picked again
      input.value = ""
    }
  })
}

function readAnswer(answer: unknown): { to: string | null; sentence: string } {
  const given = (typeof answer === "object" && answer !== null ? answer : {}) as Record<string, unknown>
  return {
    to: typeof given.to === "string" ? given.to : null,
    sentence:
      typeof given.sentence === "string" ? given.sentence : "That code could not be read. Scan it again.",
  }
}
