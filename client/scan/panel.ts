/** The parts of the page that change while the camera goes on. */
export interface PanelPlaces {
  /** shows pages of this room: confirm, what is it, which one */
  panel: HTMLElement
  /** hidden while the panel is open */
  tools: HTMLElement
  /** a sentence for what just happened */
  status: HTMLElement
  /** takes a receipt that did not reach Lotcup, to send it later */
  keepUnsent?: (address: string, fields: URLSearchParams) => void
}

/**
 * Shows this room's own pages inside the page: the same forms, rules and sentences as without a script, fetched
 * and put in. Back at the delivery, the panel closes and the list is renewed.
 */
export class Panel {
  readonly #places: PanelPlaces

  constructor(places: PanelPlaces) {
    this.#places = places
    places.panel.addEventListener("submit", (event) => this.#send(event))
    places.panel.addEventListener("click", (event) => this.#click(event))
    // Undo in the list and in a notice comes back to this page too.
    document.addEventListener("submit", (event) => {
      const form = event.target
      if (form instanceof HTMLFormElement && form.closest("[data-lines], [data-notice]")) this.#send(event)
    })
  }

  get isOpen(): boolean {
    return !this.#places.panel.hidden
  }

  /** Says a sentence above everything else and brings it into sight; "" takes it away. */
  say(sentence: string): void {
    const { status } = this.#places
    status.textContent = sentence
    status.hidden = sentence === ""
    if (sentence !== "") status.scrollIntoView({ block: "nearest" })
  }

  /** Takes a sentence away, unless another has been said since. */
  takeBack(sentence: string): void {
    if (this.#places.status.textContent === sentence) this.say("")
  }

  /** Fetches a page of this room and shows it. @returns whether Lotcup answered */
  async follow(address: string, init: RequestInit = {}): Promise<boolean> {
    try {
      const answer = await fetch(address, { ...init, headers: { Accept: "text/html" } })
      const page = new DOMParser().parseFromString(await answer.text(), "text/html")
      if (new URL(answer.url).pathname === "/receive" && answer.ok) this.#backAt(page)
      else this.#show(page)
      return true
    } catch {
      this.say("Lotcup does not answer. See whether it still runs, then try again; nothing was lost.")
      return false
    }
  }

  /** Renews the list below, whatever the panel shows. */
  async renew(address: string): Promise<void> {
    const answer = await fetch(address, { headers: { Accept: "text/html" } })
    if (answer.ok) replaceLists(new DOMParser().parseFromString(await answer.text(), "text/html"))
  }

  close(): void {
    this.#places.panel.hidden = true
    this.#places.panel.replaceChildren()
    this.#places.tools.hidden = false
  }

  #show(page: Document): void {
    this.say("")
    const main = page.querySelector("main")
    if (main === null) throw new Error("not a page of ours")
    for (const out of main.querySelectorAll(".toast, .back, script")) out.remove()
    const heading = main.querySelector("h1")
    const below = document.createElement("h2")
    below.textContent = heading?.textContent ?? ""
    heading?.replaceWith(below)
    for (const shown of main.querySelectorAll<HTMLElement>("[data-needs-script]")) shown.hidden = false
    this.#places.panel.replaceChildren(putAwayButton(), ...main.childNodes)
    this.#places.panel.hidden = false
    this.#places.tools.hidden = true
    window.scrollTo({ top: 0 })
    // not into a field: a phone would raise its keyboard, and a hand-held scanner would write into it
    this.#places.panel.focus({ preventScroll: true })
  }

  #backAt(page: Document): void {
    this.close()
    this.say("")
    replaceLists(page)
    document.querySelector("[data-notice]")?.remove()
    const notice = page.querySelector("[data-notice]")
    if (notice !== null) this.#places.status.before(notice)
    window.scrollTo({ top: 0 })
  }

  #send(event: SubmitEvent): void {
    const form = event.target
    if (!(form instanceof HTMLFormElement) || event.defaultPrevented) return
    event.preventDefault()
    if (form.dataset.sending !== undefined) return
    form.dataset.sending = ""
    const fields = new URLSearchParams()
    for (const [name, value] of new FormData(form, event.submitter))
      if (typeof value === "string") fields.append(name, value)
    const sent =
      form.method === "post"
        ? this.follow(form.action, { method: "POST", body: fields })
        : this.follow(`${form.action}?${fields}`)
    void sent
      .then((answered) => {
        if (answered || this.#places.keepUnsent === undefined || !form.matches("[data-receipt]")) return
        this.#places.keepUnsent(form.action, fields)
        this.close()
        this.say("")
      })
      .finally(() => delete form.dataset.sending)
  }

  #click(event: MouseEvent): void {
    const target = event.target instanceof Element ? event.target : null
    if (target?.closest("[data-put-away]")) {
      this.close()
      return
    }
    const step = target?.closest<HTMLElement>("[data-step]")
    if (step) {
      stepCount(step)
      return
    }
    const link = target?.closest("a")
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return
    const { pathname } = new URL(link.href)
    if (pathname !== "/receive" && !pathname.startsWith("/receive/")) return
    event.preventDefault()
    if (pathname === "/receive") this.close()
    else void this.follow(link.href)
  }
}

/** − and + beside a count: never below one. */
export function stepCount(button: HTMLElement): void {
  const field = button.parentElement?.querySelector("input")
  if (!field) return
  const now = /^\d+$/.test(field.value.trim()) ? Number(field.value) : 1
  field.value = String(Math.max(1, now + Number(button.dataset.step)))
}

function putAwayButton(): HTMLElement {
  const button = document.createElement("button")
  button.type = "button"
  button.className = "button quiet put-away"
  button.dataset.putAway = ""
  button.textContent = "Not now"
  return button
}

/** What is in the book and what is still expected, as they stand now. */
function replaceLists(page: Document): void {
  replace("[data-lines]", page)
  replace("[data-expected]", page)
}

function replace(selector: string, page: Document): void {
  const fresh = page.querySelector(selector)
  const old = document.querySelector(selector)
  if (fresh !== null && old !== null) old.replaceWith(fresh)
}
