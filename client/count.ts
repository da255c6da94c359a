import { Feedback } from "./scan/feedback.ts"
import { listenToKeyboard } from "./scan/keyboard.ts"
import { Sightings } from "./scan/sightings.ts"
import { useViewfinder } from "./scan/viewfinder.ts"

/** A count: the camera and the hand-held scanner fill in the code and send it, one bottle after the other. */

const room = document.querySelector<HTMLElement>("[data-count]")
if (room !== null) count(room)

function count(room: HTMLElement): void {
  const place = <Kind extends HTMLElement>(name: string) => room.querySelector<Kind>(`[data-${name}]`) as Kind
  const form = place<HTMLFormElement>("find")
  const status = place("status")
  for (const shown of room.querySelectorAll<HTMLElement>("[data-needs-script]")) shown.hidden = false

  let sent = false
  const found = (code: string) => {
    const field = form.querySelector<HTMLInputElement>("[name=code]")
    if (sent || field === null) return
    sent = true
    field.value = code
    form.requestSubmit()
  }
  // back from the bottle's page
  window.addEventListener("pageshow", () => {
    sent = false
  })
  const speaker = {
    say: (sentence: string) => {
      status.textContent = sentence
      status.hidden = sentence === ""
    },
    takeBack: (sentence: string) => {
      if (status.textContent === sentence) status.hidden = true
    },
  }
  const sightings = new Sightings()
  const feedback = new Feedback()
  listenToKeyboard(({ code }) => found(code))
  useViewfinder(
    {
      view: place("view"),
      video: place<HTMLVideoElement>("video"),
      button: place<HTMLButtonElement>("camera"),
      light: place<HTMLButtonElement>("light"),
      lens: place<HTMLButtonElement>("lens"),
    },
    speaker,
    (seen) => {
      if (sightings.counts(seen, performance.now()) === null) return
      feedback.read()
      found(seen.code)
    },
  )
}
