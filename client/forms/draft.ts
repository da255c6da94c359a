/**
 * What is typed into a long form is kept in this tab while the person is elsewhere (adding what the form asks for,
 * or back by mistake), and put back when the form's page comes again.
 */

const PREFIX = "lotcup-draft "
/** What a page says of itself each time it is shown, which nobody typed. */
const NOT_TYPED = ["key", "do", "_form"]

type Entries = [string, string][]

interface Kept {
  /** what is sent to have the form shown as it was typed */
  stay: [string, string]
  /** the field a page that was opened from here fills in: `?blank=7` in the address goes into it */
  fills: { query: string; field: string }
}

/**
 * Keeps the form that `find` gives, under the page's address. The page has `[data-draft-back]` to say that it was
 * put back, with `[data-draft-drop]` to begin anew; links marked `data-comes-back` lead to a page that returns here.
 *
 * @param find the form as it stands now: putting back replaces it
 * @param ready is called for the form that was put back
 */
export async function keepDraft(
  find: () => HTMLFormElement | null,
  { stay, fills }: Kept,
  ready: () => void,
) {
  const form = find()
  if (form === null) return
  const here = new URL(location.href)
  const filledIn = here.searchParams.get(fills.query)
  here.searchParams.delete(fills.query)
  const address = here.pathname + here.search
  const name = PREFIX + address
  const isAnswer = document.documentElement.dataset.posted !== undefined
  // as the server would show it unasked; of an answer that is not known
  const untouched = isAnswer ? null : text(entriesOf(form))
  let isLeaving = false

  const isTyped = () => {
    const now = find()
    return now !== null && text(entriesOf(now)) !== untouched
  }
  const keep = () => {
    const now = find()
    if (now === null) return
    if (isTyped()) write(name, text(entriesOf(now)))
    else sessionStorage.removeItem(name)
  }

  const kept = isAnswer ? null : sessionStorage.getItem(name)
  if (kept !== null && kept !== untouched) {
    const entries = JSON.parse(kept) as Entries
    if (filledIn !== null) replace(entries, fills.field, filledIn)
    await putBack(form, [...entries, stay])
    ready()
    const note = document.querySelector<HTMLElement>("[data-draft-back]")
    if (note !== null) note.hidden = false
  }
  keep()
  if (filledIn !== null) history.replaceState(history.state, "", address)

  document.addEventListener("input", keep)
  document.addEventListener("change", keep)
  document.addEventListener("submit", (event) => {
    isLeaving = true
    // kept for good now; if it is refused, its page keeps it again
    const button = event.submitter
    if (button instanceof HTMLButtonElement && button.name === "do" && button.value === "save")
      sessionStorage.removeItem(name)
  })
  document.addEventListener("click", (event) => {
    const target = event.target instanceof Element ? event.target : null
    if (target?.closest("[data-draft-drop]")) {
      isLeaving = true
      sessionStorage.removeItem(name)
      location.assign(address)
    }
    const link = target?.closest("a")
    if (link?.target !== "") return
    if (link.dataset.comesBack !== undefined) link.search = `?${new URLSearchParams({ returnTo: address })}`
    // on leaving by a link nothing is lost: it is all there on coming back
    isLeaving = link.origin === location.origin && sessionStorage.getItem(name) !== null
  })
  window.addEventListener("pageshow", () => {
    isLeaving = false
  })
  window.addEventListener("beforeunload", (event) => {
    if (!isLeaving && isTyped()) event.preventDefault()
  })
}

/** Has the server show the form with these entries, and puts it in the place of the one on the page. */
async function putBack(form: HTMLFormElement, entries: Entries): Promise<void> {
  const answer = await fetch(form.action, {
    method: "POST",
    headers: { Accept: "text/html" },
    body: new URLSearchParams(entries),
  })
  if (!answer.ok) return
  const page = new DOMParser().parseFromString(await answer.text(), "text/html")
  const again = page.querySelector(`form[data-kept-draft]`)
  if (again !== null) form.replaceWith(document.adoptNode(again))
}

function entriesOf(form: HTMLFormElement): Entries {
  return [...new FormData(form)].flatMap(
    ([name, value]): Entries =>
      typeof value === "string" && !NOT_TYPED.includes(name) ? [[name, value]] : [],
  )
}

function text(entries: Entries): string {
  return JSON.stringify(entries)
}

function replace(entries: Entries, field: string, value: string): void {
  const entry = entries.find(([name]) => name === field)
  if (entry) entry[1] = value
  else entries.push([field, value])
}

/** A browser that keeps nothing (its store is full or shut off) has the form all the same. */
function write(name: string, value: string): void {
  try {
    sessionStorage.setItem(name, value)
  } catch {
    sessionStorage.removeItem(name)
  }
}
