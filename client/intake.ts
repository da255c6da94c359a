import { listenForLabelPhotos } from "./intake/label-photo.ts"
import { stepCount } from "./scan/panel.ts"

/** The delivery's page beside the scanner: photos of labels, and the buttons of its list, which comes anew each time. */

listenForLabelPhotos()

document.addEventListener("click", (event) => {
  const step =
    event.target instanceof Element ? event.target.closest<HTMLElement>("[data-lines] [data-step]") : null
  if (step) stepCount(step)
})

const show = () => {
  for (const hidden of document.querySelectorAll<HTMLElement>("[data-lines] [data-needs-script]"))
    hidden.hidden = false
}
const list = document.querySelector("main")
if (list !== null) new MutationObserver(show).observe(list, { childList: true })
show()
