import fc from "fast-check"
import { expect, test } from "vitest"
import { gtinCheckDigit, parseItemNumber, readCode, SYMBOLOGIES } from "../../server/domain/gs1.ts"

const bodyOf = fc
  .constantFrom(7, 11, 12, 13)
  .chain((length) =>
    fc.stringMatching(new RegExp(`^[0-9]{${length}}$`)).filter((digits) => /[1-9]/.test(digits)),
  )

test("every single wrong digit of an item number is caught", () => {
  fc.assert(
    fc.property(bodyOf, fc.nat(), fc.integer({ min: 1, max: 9 }), (body, place, shift) => {
      const right = body + gtinCheckDigit(body)
      expect(parseItemNumber(right).ok).toBe(true)
      const at = place % right.length
      const digit = (Number(right[at]) + shift) % 10
      expect(parseItemNumber(right.slice(0, at) + digit + right.slice(at + 1)).ok).toBe(false)
    }),
  )
})

test("two different neighbours swapped are caught unless they differ by 5", () => {
  fc.assert(
    fc.property(bodyOf, fc.nat(), (body, place) => {
      const right = body + gtinCheckDigit(body)
      const at = place % (right.length - 1)
      const [a, b] = [Number(right[at]), Number(right[at + 1])]
      const swapped = right.slice(0, at) + b + a + right.slice(at + 2)
      expect(parseItemNumber(swapped).ok).toBe(Math.abs(a - b) % 5 === 0)
    }),
  )
})

test("whatever is scanned is read as something, and shown text holds nothing invisible", () => {
  const text = fc.oneof(fc.string({ unit: "binary", maxLength: 250 }), fc.stringMatching(/^[0-9 -]{0,16}$/))
  fc.assert(
    fc.property(text, fc.constantFrom(...SYMBOLOGIES), (scanned, symbology) => {
      const read = readCode({ text: scanned, symbology })
      switch (read.kind) {
        case "item":
          expect(read.gtin14).toMatch(/^[0-9]{14}$/)
          expect(parseItemNumber(read.gtin14).ok).toBe(true)
          break
        case "text":
          expect(read.text).toMatch(/^[^\p{C}]{1,200}$/u)
          break
        case "studio":
          expect(read.code).toMatch(/^[KTM][0-9A-Z]{5,}$/)
          break
        case "ask":
          expect(new Set(read.choices.map((choice) => choice.gtin14)).size).toBe(2)
          break
        case "bad":
          expect(read.message).toMatch(/^[^\n]{10,200}\.$/u)
      }
    }),
    { numRuns: 1000 },
  )
})
