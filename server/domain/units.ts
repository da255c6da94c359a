import { readNumber, shorten } from "./number-text.ts"
import type { BaseUnit } from "./plan.ts"

export type UnitSystem = "metric" | "us"

/**
 * What one of each unit is in our base units: µL, mg, µm, mm². Exact by definition
 * (NIST SP 811, NIST Handbook 44 appendix C); the US gallon is 231 in³.
 */
export const UNITS = {
  mL: { base: "uL", size: 1000 },
  cL: { base: "uL", size: 10_000 },
  L: { base: "uL", size: 1_000_000 },
  "fl oz": { base: "uL", size: 29_573.5295625 },
  pt: { base: "uL", size: 473_176.473 },
  qt: { base: "uL", size: 946_352.946 },
  gal: { base: "uL", size: 3_785_411.784 },
  mg: { base: "mg", size: 1 },
  g: { base: "mg", size: 1000 },
  kg: { base: "mg", size: 1_000_000 },
  oz: { base: "mg", size: 28_349.523125 },
  lb: { base: "mg", size: 453_592.37 },
  µm: { base: "um", size: 1 },
  mm: { base: "um", size: 1000 },
  cm: { base: "um", size: 10_000 },
  m: { base: "um", size: 1_000_000 },
  mil: { base: "um", size: 25.4 },
  in: { base: "um", size: 25_400 },
  ft: { base: "um", size: 304_800 },
  yd: { base: "um", size: 914_400 },
  "mm²": { base: "mm2", size: 1 },
  "cm²": { base: "mm2", size: 100 },
  "m²": { base: "mm2", size: 1_000_000 },
  "in²": { base: "mm2", size: 645.16 },
  "ft²": { base: "mm2", size: 92_903.04 },
  pcs: { base: "each", size: 1 },
} as const satisfies Record<string, { base: BaseUnit; size: number }>

export type UnitName = keyof typeof UNITS

/** No container of a studio holds more: 1000 m³, 1000 t, 1000 km. Past it a number is a slip of the keyboard. */
const LARGEST_AMOUNT = 1e12

/** The unit a bare number is taken in, and the one printed beside a field. */
export function fieldUnit(baseUnit: BaseUnit, system: UnitSystem): UnitName {
  const us = system === "us"
  switch (baseUnit) {
    case "uL":
      return us ? "fl oz" : "mL"
    case "mg":
      return us ? "oz" : "g"
    case "um":
      return us ? "in" : "cm"
    case "mm2":
      return us ? "in²" : "cm²"
    case "each":
      return "pcs"
  }
}

/** An amount in base units, as a number of `unit`; not rounded. */
export function toUnit(amount: number, unit: UnitName): number {
  return amount / UNITS[unit].size
}

/** So many of `unit` in whole base units, rounded to the nearest. */
export function fromUnit(value: number, unit: UnitName): number {
  return Math.round(value * UNITS[unit].size)
}

/**
 * An amount as a person says it, with its unit: "25 mL", "1.25 L", "0.85 fl oz", "12.6 oz"; pieces are just the
 * number. Rounded for reading (about three figures); `fieldAmount` is the one that loses nothing.
 *
 * @param amount in `baseUnit`, may be zero or negative
 */
export function formatAmount(amount: number, baseUnit: BaseUnit, system: UnitSystem): string {
  if (baseUnit === "each") return withSign(amount, String(Math.abs(amount)))
  const small = fieldUnit(baseUnit, system)
  const large = largeUnit(baseUnit, system)
  const magnitude = Math.abs(amount)
  const inSmall = readable(toUnit(magnitude, small))
  // judged after rounding, so that 999.7 mL becomes 1 L and never 1000 mL
  const stepsUp = large !== null && Number(inSmall) * UNITS[small].size >= UNITS[large].size * (1 - 1e-9)
  const text = stepsUp ? `${readable(toUnit(magnitude, large))} ${large}` : `${inSmall} ${small}`
  return withSign(amount, text)
}

/**
 * An amount as a number for an entry field, in as few decimals as bring back exactly the same amount when
 * it is read again.
 *
 * @param amount in the unit's base unit, not negative
 */
export function fieldAmount(amount: number, unit: UnitName): string {
  const value = toUnit(amount, unit)
  for (let decimals = 0; decimals < 12; decimals++) {
    const text = value.toFixed(decimals)
    if (fromUnit(Number(text), unit) === amount) return text
  }
  return String(value)
}

export type ParsedAmount = { ok: true; amount: number } | { ok: false; message: string }

/**
 * Reads an amount as a person types it: "25", "25 mL", "1,5 l", "8 fl oz", "340g", "16 in", "1/2 gal".
 *
 * @param text what was typed
 * @param baseUnit what the supply is counted in
 * @param bareUnit what a number without a unit is taken in (`fieldUnit`)
 * @param densityMgPerMl lets a supply counted by volume be given by weight and the reverse
 * @returns whole base units above zero, or one sentence saying what to do
 */
export function parseAmount(
  text: string,
  baseUnit: BaseUnit,
  bareUnit: UnitName,
  densityMgPerMl: number | null = null,
): ParsedAmount {
  const refuse = (message: string): ParsedAmount => ({ ok: false, message })
  const said = text.trim()
  const example = EXAMPLE[baseUnit]
  if (said === "") return refuse(`Write how much there is, like ${example}.`)
  if (/^[-−–]/.test(said)) return refuse(`An amount cannot be below zero: write it without the minus.`)

  const split = /^([\d.,\s¼½¾/]*)(.*)$/su.exec(said)
  const number = split?.[1]?.trim() ?? ""
  const unitText = split?.[2]?.trim() ?? ""
  if (!/\d|[¼½¾]/u.test(number)) {
    const number = baseUnit === "each" ? "a number" : "a number and a unit"
    return refuse(`“${shorten(said)}” is not an amount: write ${number}, like ${example}.`)
  }
  const unit = unitText === "" ? bareUnit : unitCalled(unitText)
  if (unit === null)
    return refuse(`“${shorten(unitText)}” is not a unit known here: write it like ${example}.`)

  const value = readValue(number)
  if (!value.ok) return value
  if (value.number === 0) return refuse(`Zero is no amount: write how much there is, like ${example}.`)

  const converted = convert(value.number, unit, unitText, baseUnit, densityMgPerMl)
  if (!converted.ok) return converted
  if (!(converted.amount <= LARGEST_AMOUNT)) {
    return refuse(`“${shorten(said)}” is more than any studio holds: check the number and its unit.`)
  }
  if (baseUnit === "each" && !Number.isInteger(converted.amount)) {
    return refuse(
      `Pieces are counted whole: write ${Math.max(1, Math.round(converted.amount))}, for example.`,
    )
  }
  const amount = Math.round(converted.amount)
  if (amount === 0) return refuse(`“${shorten(said)}” is too little to count: write a larger amount.`)
  return { ok: true, amount }
}

const EXAMPLE: Record<BaseUnit, string> = { uL: "25 mL", mg: "340 g", um: "30 cm", mm2: "600 cm²", each: "6" }

const COUNTED_BY: Record<BaseUnit, string> = {
  uL: "volume",
  mg: "weight",
  um: "length",
  mm2: "area",
  each: "the piece",
}

function convert(
  value: number,
  unit: UnitName,
  unitText: string,
  baseUnit: BaseUnit,
  densityMgPerMl: number | null,
): ParsedAmount {
  const { base, size } = UNITS[unit]
  if (baseUnit === "uL" && isBareOunce(unitText)) {
    return { ok: false, message: `“oz” alone is a weight: write “fl oz” if the label means fluid ounces.` }
  }
  if (base === baseUnit) return { ok: true, amount: value * size }
  if (densityMgPerMl !== null) {
    // 1 mg/mL is 1 mg for each 1000 µL
    if (base === "mg" && baseUnit === "uL")
      return { ok: true, amount: (value * size * 1000) / densityMgPerMl }
    if (base === "uL" && baseUnit === "mg")
      return { ok: true, amount: (value * size * densityMgPerMl) / 1000 }
  }
  const otherWay = (base === "mg" && baseUnit === "uL") || (base === "uL" && baseUnit === "mg")
  const help = otherWay ? ", or give the supply its density first" : ""
  return {
    ok: false,
    message: `This supply is counted by ${COUNTED_BY[baseUnit]}, and ${unit} is not: write it like ${EXAMPLE[baseUnit]}${help}.`,
  }
}

/**
 * Whether an amount is in ounces that do not say which: on a bottle "oz" may mean fluid ounces, on a jar of the same
 * stuff it is a weight. Never guess.
 */
export function inBareOunces(text: string): boolean {
  return isBareOunce(/^[\d.,\s¼½¾/]*(.*)$/su.exec(text.trim())?.[1] ?? "")
}

function isBareOunce(unitText: string): boolean {
  return unitCalled(unitText) === "oz" && !/wt|av/i.test(unitText)
}

const SPELLINGS: Record<UnitName, readonly string[]> = {
  mL: ["ml", "millilitre", "milliliter"],
  cL: ["cl", "centilitre", "centiliter"],
  L: ["l", "litre", "liter"],
  "fl oz": ["floz", "usfloz", "fluidounce"],
  pt: ["pt", "pint", "uspt"],
  qt: ["qt", "quart", "usqt"],
  gal: ["gal", "gallon", "usgal"],
  mg: ["mg", "milligram"],
  g: ["g", "gr", "gram"],
  kg: ["kg", "kilo", "kilogram"],
  oz: ["oz", "ounce", "ozwt", "wtoz", "ozav", "ozavdp"],
  lb: ["lb", "pound"],
  µm: ["µm", "μm", "um", "micron"],
  mm: ["mm", "millimetre", "millimeter"],
  cm: ["cm", "centimetre", "centimeter"],
  m: ["m", "metre", "meter"],
  mil: ["mil", "thou"],
  in: ["in", "inch", "inche", '"', "”", "″"],
  ft: ["ft", "foot", "feet", "'", "′"],
  yd: ["yd", "yard"],
  "mm²": ["mm²", "mm2", "sqmm"],
  "cm²": ["cm²", "cm2", "sqcm"],
  "m²": ["m²", "m2", "sqm"],
  "in²": ["in²", "in2", "sqin", "sqinch", "squareinch", "squareinche"],
  "ft²": ["ft²", "ft2", "sqft", "squarefoot", "squarefeet"],
  pcs: ["pc", "piece", "each", "ea", "x", "×"],
}

const UNIT_BY_SPELLING = new Map<string, UnitName>(
  (Object.keys(SPELLINGS) as UnitName[]).flatMap((unit) =>
    SPELLINGS[unit].map((word) => [word, unit] as const),
  ),
)

function unitCalled(text: string): UnitName | null {
  const word = text.toLowerCase().replace(/[\s.-]+/g, "")
  return UNIT_BY_SPELLING.get(word) ?? UNIT_BY_SPELLING.get(word.replace(/s$/, "")) ?? null
}

const SINGLE_FRACTIONS: Record<string, number> = { "¼": 0.25, "½": 0.5, "¾": 0.75 }

function readValue(text: string): { ok: true; number: number } | { ok: false; message: string } {
  const mixed = /^(?:(\d+)\s*)?([¼½¾])$|^(?:(\d+)\s+)?(\d{1,3})\s?\/\s?(\d{1,3})$/u.exec(text)
  if (mixed !== null) {
    const whole = Number(mixed[1] ?? mixed[3] ?? 0)
    const part =
      mixed[2] === undefined ? Number(mixed[4]) / Number(mixed[5]) : (SINGLE_FRACTIONS[mixed[2]] ?? 0)
    if (Number.isFinite(part)) return { ok: true, number: whole + part }
  }
  const read = readNumber(text)
  return read.ok ? { ok: true, number: Number(read.decimal) } : read
}

function largeUnit(baseUnit: BaseUnit, system: UnitSystem): UnitName | null {
  const us = system === "us"
  switch (baseUnit) {
    case "uL":
      return us ? "gal" : "L"
    case "mg":
      return us ? "lb" : "kg"
    case "um":
      return us ? null : "m"
    case "mm2":
    case "each":
      return null
  }
}

/** Whole above 100, one decimal above 10, two below; two figures for the very small. */
function readable(value: number): string {
  if (value >= 99.95) return halfUp(value, 0)
  if (value >= 9.995) return halfUp(value, 1)
  if (value >= 0.0995) return halfUp(value, 2)
  return trimmed(Number(value.toPrecision(2)))
}

/** Halves up as they are written: 88.55 is 88.6, though the nearest binary number lies a hair under it. */
function halfUp(value: number, decimals: number): string {
  return String(Math.round(Number((value * 10 ** decimals).toPrecision(12))) / 10 ** decimals)
}

/** Without exponent: 1 µL is "0.001" mL, 1 mm² of a large sheet never "1e-2". */
function trimmed(value: number): string {
  return value === 0 ? "0" : value.toFixed(9).replace(/\.?0+$/, "")
}

function withSign(amount: number, text: string): string {
  return amount < 0 ? `−${text}` : text
}
