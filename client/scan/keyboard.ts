import { scanTyped } from "./aim.ts"
import type { Scan } from "./codes.ts"

/** Between two keys of a scanner. Nobody types that fast for long, and no wireless scanner is slower. */
const LONGEST_GAP_MS = 100
const SHORTEST_CODE = 4
/** As much as the longest GS1 code has, with room for how its separators are written out. */
const LONGEST_CODE = 4_000
/** What stands between the parts of a GS1 code (FNC1): ASCII 29, which no key is for. */
const GS = "\u001d"

/** A key as the browser tells it. */
export interface Key {
  key: string
  ctrlKey: boolean
  altKey: boolean
  metaKey: boolean
}

/**
 * Tells a hand-held scanner that types from a person: at least four keys in quick succession, then Enter or Tab.
 *
 * The separators of GS1 codes are understood as scanners send them: as the character itself, as Ctrl+], as F8, as
 * 0 2 9 with Alt held, or as the sign a scanner is set to send in its place.
 */
export class KeyboardScan {
  #keys = ""
  /** digits pressed with Alt held: the number of a character */
  #number = ""
  #lastMs = Number.NEGATIVE_INFINITY
  readonly #separator: () => string

  /** @param separator the sign in place of GS that the scanner is set to; "" when it is not */
  constructor(separator: () => string = () => "") {
    this.#separator = separator
  }

  /**
   * One more key was pressed.
   *
   * @param nowMs a clock that only goes forward
   * @returns what was scanned when this key ends a code, else null
   */
  press(key: Key, nowMs: number): Scan | null {
    if (nowMs - this.#lastMs > LONGEST_GAP_MS) this.#forget()
    const held = key.ctrlKey || key.altKey || key.metaKey
    if (!held && (key.key === "Enter" || key.key === "Tab")) return this.#end()
    const character = this.#characterOf(key)
    if (character === null) this.#forget()
    else if (character !== "") {
      this.#keys = `${this.#keys}${character}`.slice(-LONGEST_CODE)
      this.#lastMs = nowMs
    } else if (this.#number !== "") this.#lastMs = nowMs
    return null
  }

  #end(): Scan | null {
    const typed = this.#keys + this.#numbered()
    this.#forget()
    const separator = this.#separator()
    const code = separator === "" ? typed : typed.replaceAll(separator, GS)
    return code.length >= SHORTEST_CODE ? scanTyped(code) : null
  }

  /** "" for a key that adds nothing so far, null for a shortcut: that is a person. */
  #characterOf({ key, ctrlKey, altKey, metaKey }: Key): string | null {
    if (metaKey) return null
    if (altKey && !ctrlKey && /^[0-9]$/.test(key)) {
      this.#number += key
      return ""
    }
    const before = this.#numbered()
    if (key === "F8") return before + GS
    if (ctrlKey && !altKey) {
      if (key === "]") return before + GS
      return key === "Control" || key === "Shift" ? before : null
    }
    // Shift and its like hold no character and end nothing; with both Ctrl and Alt, a third sign of a key is meant
    return [...key].length === 1 ? before + key : before
  }

  /** The character whose number was given with Alt held, "" for none. */
  #numbered(): string {
    const number = Number(this.#number)
    this.#number = ""
    return number === 29 || (number >= 32 && number < 127) ? String.fromCharCode(number) : ""
  }

  #forget(): void {
    this.#keys = ""
    this.#number = ""
  }
}

/**
 * Calls back with each code a hand-held scanner types, as long as nobody is writing into a field. Of the keys only
 * the one that ends a code is kept from the page.
 */
export function listenToKeyboard(onScan: (scan: Scan) => void): void {
  const scan = new KeyboardScan(separatorSet)
  document.addEventListener(
    "keydown",
    (event) => {
      if (event.repeat || event.isComposing || isWriting(event.target)) return
      const scanned = scan.press(event, event.timeStamp)
      if (scanned === null) return
      // Else Enter would press whatever button was tapped last.
      event.preventDefault()
      event.stopPropagation()
      onScan(scanned)
    },
    { capture: true },
  )
}

const SEPARATOR = "lotcup.scanner.separator"

/** The sign that the scanner of this device is set to send between the parts of a GS1 code; "" for none. */
export function separatorSet(): string {
  try {
    return localStorage.getItem(SEPARATOR) ?? ""
  } catch {
    // a browser may forbid it
    return ""
  }
}

/** Keeps the sign for this device. */
export function setSeparator(sign: string): void {
  try {
    if (sign === "") localStorage.removeItem(SEPARATOR)
    else localStorage.setItem(SEPARATOR, sign)
  } catch {
    // then it holds as long as nothing
  }
}

const BUTTONS = ["button", "checkbox", "file", "radio", "reset", "submit"]

function isWriting(target: EventTarget | null): boolean {
  if (target instanceof HTMLInputElement) return !BUTTONS.includes(target.type)
  return (
    target instanceof HTMLTextAreaElement ||
    target instanceof HTMLSelectElement ||
    (target instanceof HTMLElement && target.isContentEditable)
  )
}
