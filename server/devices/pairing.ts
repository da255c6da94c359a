import { createHash, randomInt, timingSafeEqual } from "node:crypto"
import { Refusal } from "../domain/refusal.ts"

/** Read out and typed by hand if need be: no letter that looks like a digit. */
const LETTERS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"
const LENGTH = 10
const MINUTE_MS = 60_000
const VALID_MS = 10 * MINUTE_MS
const LOCKED_MS = 15 * MINUTE_MS
const MOST_WRONG = 8

/** A code that lets one phone in, and until when. */
export interface PairingCode {
  code: string
  untilMs: number
}

/**
 * Hands out codes at the computer and takes them from phones: each for one phone, for ten minutes, one at a time.
 * After each wrong code the next try must wait, twice as long each time; after eight, nobody is let in for a
 * quarter of an hour and the code is gone.
 */
export class PairingDesk {
  #code: PairingCode | null = null
  #wrong = 0
  #waitUntilMs = 0

  /** A new code; the one before is void. */
  handOut(nowMs: number): PairingCode {
    const letters = Array.from({ length: LENGTH }, () => LETTERS[randomInt(LETTERS.length)])
    this.#code = { code: letters.join(""), untilMs: nowMs + VALID_MS }
    if (nowMs >= this.#waitUntilMs) this.#wrong = 0
    return this.#code
  }

  /** The code that is good now, or null. */
  current(nowMs: number): PairingCode | null {
    if (this.#code !== null && nowMs >= this.#code.untilMs) this.#code = null
    return this.#code
  }

  /**
   * Takes a code from a phone; it is used up.
   *
   * @throws {Refusal} wrong, old, or too soon after a wrong one
   */
  take(typed: string, nowMs: number): void {
    if (nowMs < this.#waitUntilMs) {
      const seconds = Math.ceil((this.#waitUntilMs - nowMs) / 1000)
      throw new Refusal(
        `Too many wrong codes. Wait ${seconds < 120 ? `${seconds} seconds` : `${Math.ceil(seconds / 60)} minutes`}, then try again.`,
        { field: "code", status: 429 },
      )
    }
    const code = this.current(nowMs)
    if (code !== null && isSame(plain(typed), code.code)) {
      this.#code = null
      this.#wrong = 0
      return
    }
    this.#wrong += 1
    this.#waitUntilMs = nowMs + (this.#wrong >= MOST_WRONG ? LOCKED_MS : 1000 * 2 ** (this.#wrong - 1))
    if (this.#wrong >= MOST_WRONG) this.#code = null
    throw new Refusal("This code is not the one on the computer. Make a new one there: Set up, Phones.", {
      field: "code",
      status: 403,
    })
  }
}

function plain(typed: string): string {
  return typed.toUpperCase().replace(/[^0-9A-Z]/g, "")
}

/** In a time that says nothing about how many letters were right. */
function isSame(one: string, other: string): boolean {
  const hash = (text: string) => createHash("sha256").update(text).digest()
  return timingSafeEqual(hash(one), hash(other))
}
