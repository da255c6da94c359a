import type { Scan } from "./scan/codes.ts"
import { listenToKeyboard } from "./scan/keyboard.ts"
import { Panel } from "./scan/panel.ts"
import { readPhoto } from "./scan/photo.ts"
import { Sightings } from "./scan/sightings.ts"
import { useViewfinder } from "./scan/viewfinder.ts"

/** The delivery's page: camera, hand-held scanner, photo and typing all lead to one panel. */

const scan = document.querySelector<HTMLElement>("[data-scan]")
if (scan !== null) receive(scan)

function receive(room: HTMLElement): void {
  const place = <Kind extends HTMLElement>(name: string) => room.querySelector<Kind>(`[data-${name}]`) as Kind
  const panel = new Panel({ panel: place("panel"), tools: place("tools"), status: place("status") })
  const sightings = new Sightings()
  for (const shown of document.querySelectorAll<HTMLElement>("[data-needs-script]")) shown.hidden = false

  // one scan at a time: a second one would put its panel over the first
  let looking = false
  const isBusy = () => looking || panel.isOpen

  async function found({ code, symbology }: Scan): Promise<void> {
    if (isBusy()) {
      panel.say("First take this in or put it away, then scan the next.")
      return
    }
    looking = true
    navigator.vibrate?.(60)
    const query = new URLSearchParams({ code, symbology, delivery: room.dataset.delivery ?? "" })
    try {
      const answer = await fetch(`/receive/lookup?${query}`, { headers: { Accept: "application/json" } })
      const { to, sentence } = readAnswer(await answer.json())
      if (to !== null) await panel.follow(to)
      else panel.say(sentence)
    } catch {
      panel.say("Lotcup does not answer. See whether it still runs, then scan again.")
    } finally {
      looking = false
    }
  }

  listenToKeyboard((code) => void found({ code, symbology: "typed" }))
  const onScan = (seen: Scan) => {
    // what is in sight while something is confirmed must not jump in afterwards
    if (sightings.counts(seen, performance.now()) && !isBusy()) void found(seen)
  }
  const parts = { view: place("view"), video: place<HTMLVideoElement>("video") }
  const buttons = { button: place<HTMLButtonElement>("camera"), light: place<HTMLButtonElement>("light") }
  useViewfinder({ ...parts, ...buttons }, panel, onScan)
  usePhoto(place("photo"), panel, found)
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
