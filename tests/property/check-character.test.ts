import fc from "fast-check"
import { expect, test } from "vitest"
import { checkCharacter, hasCheckCharacter } from "../../server/domain/check-character.ts"

const ALPHABET = [..."0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"]
const body = fc.stringMatching(/^[0-9A-Z]{1,12}$/)

test("every wrong single character is caught, in every place", () => {
  fc.assert(
    fc.property(body, (text) => {
      const code = text + checkCharacter(text)
      for (let i = 0; i < code.length; i++) {
        for (const other of ALPHABET) {
          if (other === code[i]) continue
          expect(hasCheckCharacter(code.slice(0, i) + other + code.slice(i + 1))).toBe(false)
        }
      }
    }),
  )
})

test("of all pairs of neighbours that can be swapped, 629 in 630 are caught whatever stands before", () => {
  // One body for each state the calculation can be in: the standard promises "nearly all" transpositions,
  // and this counts them.
  const startByCheck = new Map(ALPHABET.map((first) => [checkCharacter(first), first]))
  expect(startByCheck.size).toBe(36)
  for (const start of startByCheck.values()) {
    let missed = 0
    for (const [i, a] of ALPHABET.entries()) {
      for (const b of ALPHABET.slice(i + 1)) {
        if (checkCharacter(start + a + b) === checkCharacter(start + b + a)) missed++
      }
    }
    expect(missed).toBe(1)
  }
})

test("swapping the last character with the check character is caught but for 2 of the 1260 such codes", () => {
  let missed = 0
  let tried = 0
  for (const first of ALPHABET) {
    for (const last of ALPHABET) {
      const check = checkCharacter(first + last)
      if (check === last) continue
      tried++
      if (hasCheckCharacter(first + check + last)) missed++
    }
  }
  expect({ tried, missed }).toEqual({ tried: 1260, missed: 2 })
})
