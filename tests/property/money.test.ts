import fc from "fast-check"
import { expect, test } from "vitest"
import { apportion } from "../../server/domain/apportion.ts"
import { formatMoney, parseMoney, withdrawCost } from "../../server/domain/money.ts"

test("parts add up to the whole, and none is a unit or more from its exact share", () => {
  const whole = fc.integer({ min: -1e15, max: 1e15 })
  const weights = fc
    .array(fc.integer({ min: 0, max: 1e15 }), { minLength: 1, maxLength: 60 })
    .filter((list) => list.some((weight) => weight > 0))
  fc.assert(
    fc.property(whole, weights, (total, list) => {
      const parts = apportion(total, list)
      expect(parts.reduce((sum, part) => sum + BigInt(part), 0n)).toBe(BigInt(total))
      const weightSum = list.reduce((sum, weight) => sum + BigInt(weight), 0n)
      parts.forEach((part, i) => {
        const off = BigInt(part) * weightSum - BigInt(total) * BigInt(list[i]!)
        expect(off < 0n ? -off : off).toBeLessThan(weightSum)
        expect(Object.is(part, -0)).toBe(false)
        if (list[i] === 0) expect(part).toBe(0)
      })
    }),
  )
})

test("a container emptied in any steps gives up its cost exactly, never more than it carries", () => {
  const steps = fc.array(fc.integer({ min: 1, max: 1e9 }), { minLength: 1, maxLength: 40 })
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 1e15 }), steps, (cost, amounts) => {
      let costLeft = cost
      let amountLeft = amounts.reduce((sum, amount) => sum + amount, 0)
      for (const amount of amounts) {
        const taken = withdrawCost(costLeft, amount, amountLeft)
        expect(taken).toBeGreaterThanOrEqual(0)
        // within half a micro of the exact share
        const off = 2n * (BigInt(taken) * BigInt(amountLeft) - BigInt(costLeft) * BigInt(amount))
        expect(off < 0n ? -off : off).toBeLessThanOrEqual(BigInt(amountLeft))
        costLeft -= taken
        amountLeft -= amount
      }
      expect(amountLeft).toBe(0)
      expect(costLeft).toBe(0)
    }),
  )
})

test("a sum in whole cents is read back from what is shown", () => {
  fc.assert(
    fc.property(fc.integer({ min: 0, max: 99_999_999_999 }), (cents) => {
      expect(parseMoney(formatMoney(cents * 10_000, "USD"), "USD")).toEqual({
        ok: true,
        micro: cents * 10_000,
      })
    }),
  )
})
