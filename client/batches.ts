import { stopSecondTap } from "./forms/second-tap.ts"
import { listenForLabelPhotos } from "./intake/label-photo.ts"

/** A batch's page: one tap does one layer; photos of coats; the number of good cups goes up and down by big buttons; without script it is typed. */

listenForLabelPhotos()
// a layer that is done by mistake is the dearest slip of a sticky thumb
const coat = document.querySelector<HTMLFormElement>("form#coat-next")
if (coat) stopSecondTap(coat)
// back at the bottle that was tapped, also where it is folded away
const tapped = document.getElementById(location.hash.slice(1))
const fold = tapped?.closest("details")
if (tapped && fold && !fold.open) {
  fold.open = true
  tapped.scrollIntoView()
}
for (const hidden of document.querySelectorAll<HTMLElement>("[data-needs-script]")) hidden.hidden = false

for (const stepper of document.querySelectorAll<HTMLElement>("[data-stepper]")) {
  const field = stepper.querySelector<HTMLInputElement>("input")
  if (field === null) continue
  const [least, most] = [Number(stepper.dataset.min), Number(stepper.dataset.max)]
  const buttons = [...stepper.querySelectorAll<HTMLButtonElement>("[data-step]")]
  const show = () => {
    const value = Number(field.value)
    for (const button of buttons) {
      const next = value + Number(button.dataset.step)
      button.disabled = !(next >= least && next <= most)
    }
  }
  for (const button of buttons) {
    button.hidden = false
    button.addEventListener("click", () => {
      field.value = String(Math.min(most, Math.max(least, Number(field.value) + Number(button.dataset.step))))
      show()
    })
  }
  field.addEventListener("input", show)
  show()
}
