import { describe, expect, test } from "vitest"
import { fieldAmount, fieldUnit, formatAmount, fromUnit, parseAmount } from "../../server/domain/units.ts"

const amountOf = (...args: Parameters<typeof parseAmount>) => {
  const parsed = parseAmount(...args)
  if (!parsed.ok) throw new Error(parsed.message)
  return parsed.amount
}
const refusalOf = (...args: Parameters<typeof parseAmount>) => {
  const parsed = parseAmount(...args)
  if (parsed.ok) throw new Error(`took ${parsed.amount}`)
  return parsed.message
}

describe("an amount is said the way the trade says it", () => {
  test.each([
    [25_000, "uL", "metric", "25 mL"],
    [1_200_000, "uL", "metric", "1.2 L"],
    [25_000, "uL", "us", "0.85 fl oz"],
    [340_000, "mg", "metric", "340 g"],
    [357_204, "mg", "us", "12.6 oz"],
    [3, "each", "us", "3"],
    [3, "each", "metric", "3"],
    [305_000, "um", "metric", "30.5 cm"],
    [10_000_000, "um", "metric", "10 m"],
    [406_400, "um", "us", "16 in"],
    [60_000, "mm2", "metric", "600 cm²"],
    [92_903, "mm2", "us", "144 in²"],
    [3_785_412, "uL", "us", "1 gal"],
    [453_592, "mg", "us", "1 lb"],
    [0, "uL", "metric", "0 mL"],
    [-25_000, "uL", "metric", "−25 mL"],
    [-3, "each", "metric", "−3"],
    [7, "uL", "metric", "0.007 mL"],
    [10_000, "mg", "metric", "10 g"],
    // 77 mL at 1.15 g/mL; as a binary number 88.55 lies a hair under the half
    [88_550, "mg", "metric", "88.6 g"],
  ] as const)("%d %s in %s is %s", (amount, baseUnit, system, said) => {
    expect(formatAmount(amount, baseUnit, system)).toBe(said)
  })

  test("a rounded amount steps up to the larger unit: 999.7 mL is 1 L, not 1000 mL", () => {
    expect(formatAmount(999_700, "uL", "metric")).toBe("1 L")
    expect(formatAmount(999_400, "uL", "metric")).toBe("999 mL")
  })
})

describe("an amount is read the way people write it", () => {
  test.each([
    ["25", "uL", "mL", 25_000],
    ["25 mL", "uL", "mL", 25_000],
    ["25ml", "uL", "fl oz", 25_000],
    ["25 ML.", "uL", "mL", 25_000],
    ["1,5 l", "uL", "mL", 1_500_000],
    ["0.5 L", "uL", "mL", 500_000],
    [".5 L", "uL", "mL", 500_000],
    ["8 fl oz", "uL", "mL", 236_588],
    ["8 fl. oz.", "uL", "mL", 236_588],
    ["8", "uL", "fl oz", 236_588],
    ["2 qt", "uL", "mL", 1_892_706],
    ["1 gal", "uL", "mL", 3_785_412],
    ["2 gallons", "uL", "mL", 7_570_824],
    ["1/2 gal", "uL", "mL", 1_892_706],
    ["1 1/2 gal", "uL", "mL", 5_678_118],
    ["½ gal", "uL", "mL", 1_892_706],
    ["12 oz", "mg", "g", 340_194],
    ["340g", "mg", "oz", 340_000],
    ["2 lbs", "mg", "g", 907_185],
    ["16 in", "um", "cm", 406_400],
    ['16"', "um", "cm", 406_400],
    ["5 mil", "um", "cm", 127],
    ["10 yd", "um", "cm", 9_144_000],
    ["12 sq in", "mm2", "cm²", 7742],
    ["600 cm2", "mm2", "cm²", 60_000],
    ["6", "each", "pcs", 6],
    ["6 pcs", "each", "pcs", 6],
    ["1 000 mL", "uL", "mL", 1_000_000],
    ["1,234.5 mL", "uL", "mL", 1_234_500],
    ["1.234,5 mL", "uL", "mL", 1_234_500],
    ["0,125 L", "uL", "mL", 125_000],
  ] as const)("“%s” for a supply in %s (bare: %s) is %d", (text, baseUnit, bareUnit, amount) => {
    expect(amountOf(text, baseUnit, bareUnit)).toBe(amount)
  })

  test("a number that can be read two ways is asked about, not guessed", () => {
    expect(refusalOf("1,250 mL", "uL", "mL")).toBe("“1,250” can be read two ways: write 1250 or 1.25.")
  })
})

describe("an amount that cannot be is refused in one sentence that says what to do", () => {
  test.each([
    ["", "uL", "Write how much there is, like 25 mL."],
    ["0", "uL", "Zero is no amount: write how much there is, like 25 mL."],
    ["0.0 mL", "uL", "Zero is no amount: write how much there is, like 25 mL."],
    ["-5", "uL", "An amount cannot be below zero: write it without the minus."],
    ["−5 g", "mg", "An amount cannot be below zero: write it without the minus."],
    ["NaN", "uL", "“NaN” is not an amount: write a number and a unit, like 25 mL."],
    ["Infinity", "mg", "“Infinity” is not an amount: write a number and a unit, like 340 g."],
    ["half", "uL", "“half” is not an amount: write a number and a unit, like 25 mL."],
    ["1/0", "uL", "“1/0” is not a number: write it in digits, like 25 or 0.5."],
    ["1.2.3", "uL", "“1.2.3” is not a number: write it in digits, like 25 or 0.5."],
    ["1e9", "uL", "“e9” is not a unit known here: write it like 25 mL."],
    ["5 drops", "uL", "“drops” is not a unit known here: write it like 25 mL."],
    ["99999999999 L", "uL", "“99999999999 L” is more than any studio holds: check the number and its unit."],
    ["0.0001 mL", "uL", "“0.0001 mL” is too little to count: write a larger amount."],
    ["2.5", "each", "Pieces are counted whole: write 3, for example."],
    ["8 oz", "uL", "“oz” alone is a weight: write “fl oz” if the label means fluid ounces."],
  ] as const)("“%s” (%s)", (text, baseUnit, message) => {
    expect(refusalOf(text, baseUnit, fieldUnit(baseUnit, "metric"))).toBe(message)
  })

  test("hundreds of nines are too much, and the sentence stays short", () => {
    const message = refusalOf("9".repeat(400), "uL", "mL")
    expect(message).toContain("more than any studio holds")
    expect(message.length).toBeLessThan(120)
  })

  test("a weight for a supply counted by volume needs a density", () => {
    expect(refusalOf("340 g", "uL", "mL")).toBe(
      "This supply is counted by volume, and g is not: write it like 25 mL, or give the supply its density first.",
    )
    expect(amountOf("340 g", "uL", "mL", 1130)).toBe(300_885)
    expect(amountOf("8 oz wt", "uL", "mL", 1130)).toBe(200_705)
    expect(refusalOf("8 oz", "uL", "mL", 1130)).toContain("fl oz")
  })

  test("a volume for a supply counted by weight needs a density", () => {
    expect(refusalOf("1 L", "mg", "g")).toContain("counted by weight, and L is not")
    expect(amountOf("1 L", "mg", "g", 1130)).toBe(1_130_000)
  })

  test("no density makes a length of a volume", () => {
    expect(refusalOf("3 cm", "uL", "mL", 1130)).toBe(
      "This supply is counted by volume, and cm is not: write it like 25 mL.",
    )
  })
})

describe("an entry field loses nothing", () => {
  test.each([
    [25_000, "mL", "25"],
    [1_250_400, "mL", "1250.4"],
    [236_588, "fl oz", "8"],
    [406_400, "in", "16"],
    [7, "pcs", "7"],
    [0, "g", "0"],
  ] as const)("%d base units are %s: “%s”", (amount, unit, text) => {
    expect(fieldAmount(amount, unit)).toBe(text)
    expect(fromUnit(Number(text), unit)).toBe(amount)
  })
})
