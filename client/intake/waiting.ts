import type { Scan } from "../scan/codes.ts"

/** A receipt as its form would send it. Its key makes it one, however often it is sent. */
interface Receipt {
  address: string
  fields: URLSearchParams
  /** why Lotcup did not take it; null while it was not asked */
  refused: string | null
}

/** What the line about waiting things needs of the page. */
interface Parts {
  /** says how many wait; hidden while none do */
  line: HTMLElement
  /** all were sent: the list is looked at anew */
  onSent: () => void
  /** shows a receipt that was refused, to be mended */
  onRefused: (address: string, fields: URLSearchParams) => void
  /** looks a scan up that was made meanwhile. @returns false while the page is busy with another thing */
  onScan: (scan: Scan) => boolean
}

const ASK_AGAIN_MS = 3_000

/**
 * Receipts and scans made while the connection is down. They wait in the open page; when Lotcup answers again the
 * receipts are sent one after the other, each once, and then the scans looked up. The page warns before it is closed
 * with some waiting.
 */
export class Waiting {
  readonly #receipts: Receipt[] = []
  readonly #scans: Scan[] = []
  readonly #parts: Parts
  #isSending = false

  constructor(parts: Parts) {
    this.#parts = parts
    window.addEventListener("online", () => void this.send())
    window.addEventListener("beforeunload", (event) => {
      if (this.#receipts.length + this.#scans.length > 0) event.preventDefault()
    })
    parts.line.addEventListener("click", (event) => {
      if (event.target instanceof Element && event.target.closest("[data-look]")) this.#lookAtRefused()
    })
    setInterval(() => void this.send(), ASK_AGAIN_MS)
  }

  keep(address: string, fields: URLSearchParams): void {
    this.#receipts.push({ address, fields, refused: null })
    this.#say()
  }

  keepScan(scan: Scan): void {
    this.#scans.push(scan)
    this.#say()
  }

  /** Sends what waits, the oldest first, until Lotcup does not answer. Those that were refused stay. */
  async send(): Promise<void> {
    if (this.#isSending) return
    this.#isSending = true
    let sent = 0
    try {
      for (const receipt of this.#receipts.filter((one) => one.refused === null)) {
        const answer = await ask(receipt)
        if (answer === "no answer") break
        if (answer === "taken in") {
          this.#receipts.splice(this.#receipts.indexOf(receipt), 1)
          sent++
        } else receipt.refused = answer.refused
      }
    } finally {
      this.#isSending = false
    }
    this.#say()
    if (sent > 0) this.#parts.onSent()
    // receipts first: a scan that is looked up before them would not know of them
    const isClear = this.#receipts.every((one) => one.refused !== null)
    const [scan] = this.#scans
    if (isClear && scan && navigator.onLine && this.#parts.onScan(scan)) {
      this.#scans.shift()
      this.#say()
    }
  }

  #lookAtRefused(): void {
    const at = this.#receipts.findIndex((one) => one.refused !== null)
    const [receipt] = at < 0 ? [] : this.#receipts.splice(at, 1)
    this.#say()
    if (receipt) this.#parts.onRefused(receipt.address, receipt.fields)
  }

  #say(): void {
    const { line } = this.#parts
    const waiting = this.#receipts.filter((one) => one.refused === null).length
    const refused = this.#receipts.find((one) => one.refused !== null)
    const sentences = [
      waiting === 0 ? "" : `${counted(waiting, "receipt")} for the connection.`,
      this.#scans.length === 0 ? "" : `${counted(this.#scans.length, "scan")} to be looked up.`,
      waiting + this.#scans.length === 0 ? "" : "Keep this page open.",
      refused ? `One was not taken in: ${refused.refused}` : "",
    ].filter(Boolean)
    line.hidden = sentences.length === 0
    line.replaceChildren(sentences.join(" "))
    if (refused) line.append(" ", lookButton())
  }
}

async function ask({ address, fields }: Receipt): Promise<"taken in" | "no answer" | { refused: string }> {
  try {
    const answer = await fetch(address, {
      method: "POST",
      body: fields,
      headers: { Accept: "application/json" },
    })
    if (answer.ok) return "taken in"
    // something that passes: the file is locked, the server is just starting
    if (answer.status >= 500) return "no answer"
    const said = (await answer.json().catch(() => ({}))) as { sentence?: unknown }
    return { refused: typeof said.sentence === "string" ? said.sentence : "Look at it again." }
  } catch {
    return "no answer"
  }
}

function counted(n: number, what: string): string {
  return n === 1 ? `One ${what} waits` : `${n} ${what}s wait`
}

function lookButton(): HTMLElement {
  const button = document.createElement("button")
  button.type = "button"
  button.className = "button secondary"
  button.dataset.look = ""
  button.textContent = "Look at it"
  return button
}
