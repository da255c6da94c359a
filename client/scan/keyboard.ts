/** Between two keys of a scanner. Nobody types that fast for long, and no wireless scanner is slower. */
const LONGEST_GAP_MS = 100
const SHORTEST_CODE = 4
const LONGEST_CODE = 200

/** A key as the browser tells it. */
export interface Key {
  key: string
  ctrlKey: boolean
  altKey: boolean
  metaKey: boolean
}

/** Tells a hand-held scanner that types from a person: at least four keys in quick succession, then Enter. */
export class KeyboardScan {
  #keys = ""
  #lastMs = Number.NEGATIVE_INFINITY

  /**
   * One more key was pressed.
   *
   * @param nowMs a clock that only goes forward
   * @returns the code when this key ends one, else null
   */
  press(key: Key, nowMs: number): string | null {
    if (nowMs - this.#lastMs > LONGEST_GAP_MS) this.#keys = ""
    if (key.key === "Enter") {
      const code = this.#keys
      this.#keys = ""
      return code.length >= SHORTEST_CODE ? code : null
    }
    if (key.ctrlKey || key.metaKey) {
      this.#keys = ""
      return null
    }
    // Shift, Alt and their like hold no character and end nothing.
    if ([...key.key].length !== 1) return null
    this.#lastMs = nowMs
    this.#keys = `${this.#keys}${key.key}`.slice(-LONGEST_CODE)
    return null
  }
}

/** Calls back with each code a hand-held scanner types, as long as nobody is writing into a field. */
export function listenToKeyboard(onCode: (code: string) => void): void {
  const scan = new KeyboardScan()
  document.addEventListener(
    "keydown",
    (event) => {
      if (event.repeat || event.isComposing || isWriting(event.target)) return
      const code = scan.press(event, event.timeStamp)
      if (code === null) return
      // Else Enter would press whatever button was tapped last.
      event.preventDefault()
      event.stopPropagation()
      onCode(code)
    },
    { capture: true },
  )
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
