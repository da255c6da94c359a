/** What if: a changed number or day is asked about at once, and only the answer is shown anew. */

/** Next to nothing: an answer that the next stroke of the keys overtakes is stopped. */
const WAIT_MS = 30

const form = document.querySelector<HTMLFormElement>("#what-if")
let waiting: ReturnType<typeof setTimeout> | undefined
let asking: AbortController | undefined

form?.addEventListener("input", () => {
  clearTimeout(waiting)
  waiting = setTimeout(() => void ask(form), WAIT_MS)
})

async function ask(of: HTMLFormElement): Promise<void> {
  asking?.abort()
  asking = new AbortController()
  const query = new URLSearchParams()
  for (const [name, value] of new FormData(of)) if (typeof value === "string") query.append(name, value)
  const address = `${of.action}?${query}`
  const place = document.querySelector("#what-it-does")
  place?.setAttribute("aria-busy", "true")
  try {
    const answer = await fetch(address, { headers: { Accept: "text/html" }, signal: asking.signal })
    const page = new DOMParser().parseFromString(await answer.text(), "text/html")
    const fresh = page.querySelector("#what-it-does")
    // an answer without it is no answer: the page stays as it is, and its button still asks
    if (fresh) place?.replaceWith(document.adoptNode(fresh))
    history.replaceState(null, "", address)
  } catch {
    // stopped by the next change, or nobody is there: the button asks again
    place?.removeAttribute("aria-busy")
  }
}
