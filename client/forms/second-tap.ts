const AGAIN_MS = 1_200
const KEPT = "done-at"

/**
 * A button tapped twice sends its form once. The second tap may land when the next page is there already, on the
 * button that stands in that place now: on a form like the one before, it does nothing.
 */
export function stopSecondTap(form: HTMLFormElement): void {
  form.addEventListener("submit", (event) => {
    const now = Date.now()
    const before = Number(sessionStorage.getItem(KEPT))
    const isOfPageBefore = before < performance.timeOrigin
    if (isOfPageBefore && now >= before && now - before < AGAIN_MS) event.preventDefault()
    else sessionStorage.setItem(KEPT, String(now))
  })
}
