/** Labels: the format is remembered on this device, a change shows at once, and the button opens the print window. */

const REMEMBERED = "lotcup-labels"

const form = document.querySelector<HTMLFormElement>("[data-labels]")
if (form !== null) choose(form)
for (const button of document.querySelectorAll<HTMLElement>("[data-print]")) {
  button.hidden = false
  button.addEventListener("click", () => window.print())
}

function choose(form: HTMLFormElement): void {
  const here = new URL(location.href)
  const before = new URLSearchParams(localStorage.getItem(REMEMBERED) ?? "")
  if (!here.searchParams.has("format") && before.has("format")) {
    for (const name of ["format", "symbol"]) here.searchParams.set(name, before.get(name) ?? "")
    location.replace(here)
    return
  }
  form.addEventListener("change", (event) => {
    const given = new FormData(form)
    const kept = new URLSearchParams()
    for (const name of ["format", "symbol"]) kept.set(name, String(given.get(name) ?? ""))
    localStorage.setItem(REMEMBERED, kept.toString())
    // a number is still being written
    if (!(event.target instanceof HTMLInputElement && event.target.type === "text")) form.requestSubmit()
  })
}
