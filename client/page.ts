import { sayDays } from "./forms/day-words.ts"
import { leavePost } from "./forms/posted.ts"
import { closeMoreWhenLeft } from "./more-menu.ts"

/**
 * On every page: a form is sent once however often its button is tapped, what is wrong is never hidden in a fold, a
 * notice and the rooms under More can be put away, a page printed.
 */

leavePost()
closeMoreWhenLeft()
sayDays()

for (const wrong of document.querySelectorAll("[aria-invalid], .error")) openFolds(wrong)
document.querySelector<HTMLElement>("[aria-invalid]")?.focus({ preventScroll: false })
// the browser's own complaint about a field left empty
document.addEventListener("invalid", ({ target }) => target instanceof Element && openFolds(target), true)

function openFolds(inside: Element): void {
  for (
    let fold = inside.closest("details");
    fold !== null;
    fold = fold.parentElement?.closest("details") ?? null
  )
    fold.open = true
}

const sent = new WeakSet<HTMLFormElement>()

document.addEventListener("submit", (event) => {
  const form = event.target
  // a form that a page's own code sends has been stopped by it already
  if (!(form instanceof HTMLFormElement) || form.method !== "post" || event.defaultPrevented) return
  if (sent.has(form)) {
    event.preventDefault()
    return
  }
  sent.add(form)
  // afterwards: a disabled button would not be sent along
  setTimeout(() => setButtons(form, true))
})

// back from the next page: the form may be sent again
window.addEventListener("pageshow", () => {
  for (const form of document.forms) {
    sent.delete(form)
    if (form.method === "post") setButtons(form, false)
  }
})

document.addEventListener("click", (event) => {
  const button = event.target instanceof Element ? event.target.closest("[data-dismiss]") : null
  button?.closest("[data-notice]")?.remove()
})

for (const printer of document.querySelectorAll<HTMLButtonElement>("[data-print]")) {
  printer.hidden = false
  printer.addEventListener("click", () => window.print())
}

// nothing can be opened on paper: folds that belong there stand open while it is printed
const opened: HTMLDetailsElement[] = []
addEventListener("beforeprint", () => {
  for (const fold of document.querySelectorAll<HTMLDetailsElement>("details[data-on-paper]:not([open])")) {
    fold.open = true
    opened.push(fold)
  }
})
addEventListener("afterprint", () => {
  for (const fold of opened.splice(0)) fold.open = false
})

function setButtons(form: HTMLFormElement, busy: boolean): void {
  for (const element of form.elements) {
    if (!(element instanceof HTMLButtonElement) || element.type !== "submit") continue
    if (busy && !element.disabled) {
      element.disabled = true
      element.dataset.busy = ""
    } else if (!busy && element.dataset.busy !== undefined) {
      element.disabled = false
      delete element.dataset.busy
    }
  }
}
