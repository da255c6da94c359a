import { describe, expect, test } from "vitest"
import { apportion } from "../../server/domain/apportion.ts"
import { formatMoney, parseMoney, withdrawCost } from "../../server/domain/money.ts"

describe("a price is read as people write it", () => {
  test.each([
    ["12.50", 12_500_000],
    ["12,50", 12_500_000],
    ["$12.50", 12_500_000],
    ["$ 12.5", 12_500_000],
    ["USD 12.50", 12_500_000],
    ["12.50 usd", 12_500_000],
    ["1,234.50", 1_234_500_000],
    ["1 234,50", 1_234_500_000],
    ["0", 0],
    ["0.000001", 1],
    ["0.1", 100_000],
    [".35", 350_000],
    ["1000000000", 1e15],
  ])("“%s” is %d micro", (text, micro) => {
    expect(parseMoney(text, "USD")).toEqual({ ok: true, micro })
  })

  // signs and codes: Unicode CLDR and ISO 4217, as the computer's Intl has them
  test.each([
    ["12,50 €", "EUR"],
    ["EUR 12.50", "EUR"],
    ["12.50 eur", "EUR"],
    ["€12.50", "EUR"],
    ["US$12.50", "USD"],
    ["$12.50 USD", "USD"],
    ["CA$12.50", "CAD"],
    ["$12.50", "CAD"],
    ["12,50 kr", "SEK"],
    ["12,50 zł", "PLN"],
    ["R$ 12,50", "BRL"],
    ["¥12.5", "CNY"],
    ["12.50 CHF", "CHF"],
  ])("the studio's own sign is read: “%s” where prices are in %s", (text, currency) => {
    expect(parseMoney(text, currency)).toEqual({ ok: true, micro: 12_500_000 })
  })

  test.each([
    ["€5", "USD"],
    ["5 €", "USD"],
    ["£5", "USD"],
    ["5 EUR", "USD"],
    ["eur5", "USD"],
    ["CA$5", "USD"],
    ["$5 CAD", "USD"],
    ["-€5", "USD"],
    ["$5", "EUR"],
    ["5 USD", "GBP"],
    ["5 kr", "EUR"],
  ])(
    "another currency's is refused, not taken for the own: “%s” where prices are in %s",
    (text, currency) => {
      expect(parseMoney(text, currency)).toEqual({
        ok: false,
        message: `“${text}” is in another currency; prices here are in ${currency}. Write it in ${currency}, like 12.50.`,
      })
    },
  )

  test("a currency that is none is a mistake of the program", () => {
    expect(() => parseMoney("€5", "dollars")).toThrow(RangeError)
  })

  test.each([
    ["", "Write what it cost, like 12.50; if it cost nothing, write 0."],
    ["-3", "A price cannot be below zero: write it without the minus."],
    ["-$3", "A price cannot be below zero: write it without the minus."],
    ["$-3", "A price cannot be below zero: write it without the minus."],
    ["free", "“free” is not a price: write it like 12.50."],
    ["NaN", "“NaN” is not a price: write it like 12.50."],
    ["$", "“$” is not a price: write it like 12.50."],
    ["5 pcs", "“5 pcs” is not a price: write it like 12.50."],
    ["50c", "“50c” is not a price: write it like 12.50."],
    ["5$5", "“5$5” is not a price: write it like 12.50."],
    ["1e3", "“1e3” is not a price: write it like 12.50."],
    ["1,250", "“1,250” can be read two ways: write 1250 or 1.25."],
    ["0.0000001", "A price has at most six decimals: write it shorter."],
    ["1000000000.01", "“1000000000.01” is more than a studio pays: check the number."],
  ])("“%s” is refused in a sentence", (text, message) => {
    expect(parseMoney(text, "USD")).toEqual({ ok: false, message })
  })
})

describe("money is shown to the smallest coin", () => {
  test.each([
    [12_500_000, "USD", "$12.50"],
    [12_345_000, "USD", "$12.35"],
    [1_005_000, "USD", "$1.01"],
    [-350_000, "EUR", "−€0.35"],
    [-1000, "USD", "$0.00"],
    [120_400_000, "JPY", "¥120"],
    [1_234_567_890_000, "USD", "$1,234,567.89"],
    [0, "USD", "$0.00"],
  ])("%d micro of %s is %s", (micro, currency, said) => {
    expect(formatMoney(micro, currency)).toBe(said)
  })
})

describe("a withdrawal takes its share of the cost", () => {
  test("a third of 10 is 3.333333, and the last takes the rest", () => {
    expect(withdrawCost(10_000_000, 1, 3)).toBe(3_333_333)
    expect(withdrawCost(6_666_667, 1, 2)).toBe(3_333_334)
    expect(withdrawCost(3_333_333, 1, 1)).toBe(3_333_333)
  })

  test("large costs and amounts stay exact", () => {
    // 999 999 999 999 999 × 2 ÷ 3 = 666 666 666 666 666 exactly; its product is past 2⁵³
    expect(withdrawCost(999_999_999_999_999, 2_000_000_000_000, 3_000_000_000_000)).toBe(666_666_666_666_666)
  })

  test("more than is left, nothing, or a part of a unit is a mistake of the program", () => {
    expect(() => withdrawCost(100, 4, 3)).toThrow(RangeError)
    expect(() => withdrawCost(100, 0, 3)).toThrow(RangeError)
    expect(() => withdrawCost(100, -1, 3)).toThrow(RangeError)
    expect(() => withdrawCost(100, 0.5, 3)).toThrow(RangeError)
    expect(() => withdrawCost(-1, 1, 3)).toThrow(RangeError)
    expect(() => withdrawCost(Number.NaN, 1, 3)).toThrow(RangeError)
  })
})

describe("a whole is shared out without loss", () => {
  test("100 over three equal cups: the first gets the odd one", () => {
    expect(apportion(100, [1, 1, 1])).toEqual([34, 33, 33])
  })

  test("the largest remainder comes before the larger share", () => {
    // 10 × 5/11 = 4.545…, 10 × 4/11 = 3.636…, 10 × 2/11 = 1.818…
    expect(apportion(10, [5, 4, 2])).toEqual([4, 4, 2])
  })

  test("seats by largest remainder: votes 47 16 15.8 12 6.1 3.1 thousand, 10 seats", () => {
    // the example printed in the encyclopaedia article on the largest remainder method (from memory)
    expect(apportion(10, [47_000, 16_000, 15_800, 12_000, 6_100, 3_100])).toEqual([5, 2, 1, 1, 1, 0])
  })

  test("a negative whole is shared out the same way, with the sign turned", () => {
    expect(apportion(-100, [1, 1, 1])).toEqual([-34, -33, -33])
  })

  test("no weight, no part; nothing to share, no part", () => {
    expect(apportion(7, [0, 3, 0])).toEqual([0, 7, 0])
    expect(apportion(0, [0, 0])).toEqual([0, 0])
    expect(apportion(0, [])).toEqual([])
  })

  test("a million million million of weights stay exact", () => {
    expect(apportion(1e15, [1e15, 1e15, 1])).toEqual([5e14, 5e14, 0])
    expect(apportion(1e15 + 1, [1e15, 1e15])).toEqual([5e14 + 1, 5e14])
  })

  test("what cannot be shared is a mistake of the program", () => {
    expect(() => apportion(1, [])).toThrow(RangeError)
    expect(() => apportion(1, [0, 0])).toThrow(RangeError)
    expect(() => apportion(1, [1, -1])).toThrow(RangeError)
    expect(() => apportion(1.5, [1])).toThrow(RangeError)
    expect(() => apportion(1, [0.5])).toThrow(RangeError)
  })
})
