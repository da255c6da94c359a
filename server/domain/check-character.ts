const ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

/**
 * The check character of ISO/IEC 7064 MOD 37,36 (hybrid system) for digits and capital letters.
 *
 * Catches every wrong single character, and of two neighbours swapped all but 1 pair in 630.
 *
 * @param body one or more of 0–9 and A–Z, without check character
 * @returns one of 0–9 and A–Z
 * @throws {RangeError} on any other character, or none
 */
export function checkCharacter(body: string): string {
  return ALPHABET[(37 - stateAfter(body)) % 36]!
}

/** Whether the last character is the MOD 37,36 check character of those before it. */
export function hasCheckCharacter(code: string): boolean {
  return /^[0-9A-Z]{2,}$/.test(code) && checkCharacter(code.slice(0, -1)) === code.at(-1)
}

function stateAfter(body: string): number {
  if (body === "") throw new RangeError("nothing to check")
  let state = 36
  for (const character of body) {
    const value = ALPHABET.indexOf(character)
    if (value < 0) throw new RangeError(`“${character}” is neither a digit nor a capital letter`)
    // modulo 36 with 36 in the place of 0, doubled modulo 37
    state = (((state + value) % 36 || 36) * 2) % 37
  }
  return state
}
