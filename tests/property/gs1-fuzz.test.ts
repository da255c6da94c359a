import { expect, test } from "vitest"
import { parseDigitalLink } from "../../server/domain/gs1/digital-link.ts"
import { type ParsedElements, parseBracketed, parseElementString } from "../../server/domain/gs1/elements.ts"
import { factsOf } from "../../server/domain/gs1/facts.ts"
import { identifier } from "../../server/domain/gs1/identifiers.ts"
import { gtinCheckDigit, readCode, SYMBOLOGIES } from "../../server/domain/gs1.ts"
import { type Chance, chance } from "../support/chance.ts"
import { ALL_AIS, elementString, GS, someValue } from "../support/gs1-strings.ts"

/** The full million by FUZZ_COUNT=1000000: 11 s of processor time, measured. */
const COUNT = Number(process.env.FUZZ_COUNT ?? 100_000)

/** Bits that codes are made of, right and wrong, to be strung together in any order. */
const SCRAPS: readonly ((random: Chance) => string)[] = [
  () => GS,
  (random) => ["]C1", "]d2", "]Q3", "]e0", "]E0", "]E4", "]C0", "]", "[)>"][random.below(9)]!,
  (random) => ALL_AIS[random.below(ALL_AIS.length)]!,
  (random) => `(${ALL_AIS[random.below(ALL_AIS.length)]!})`,
  (random) => String(random.below(10 ** (1 + random.below(9)))),
  (random) => ["01", "02", "(01)", "(02)"][random.below(4)]! + String(random.below(1e14)).padStart(14, "0"),
  (random) => someElement(random),
  (random) => `(01)${someValue(identifier("01")!, random)}`,
  (random) =>
    ["https://example.com/", "http://x/01/", "/10/", "/21/", "?17=", "&", "%", "%2F", "#"][random.below(9)]!,
  (random) => String.fromCharCode(random.below(0x250)),
  (random) => String.fromCodePoint(random.below(0x110000)),
  (random) => ["<GS>", "{GS}", "␝", "^]", "\\(", ")", "(", " ", "\r\n", "０", "é"][random.below(11)]!,
]

function someElement(random: Chance): string {
  const ai = ALL_AIS[random.below(ALL_AIS.length)]!
  return elementString([{ ai, value: someValue(identifier(ai)!, random) }])
}

function someCode(random: Chance): string {
  const length = random.below(9)
  // from nothing one seldom comes upon an item: half begin with one, as element or as bare digits
  let text = [beginning, ean, () => "", () => ""][random.below(4)]!(random)
  for (let nth = 0; nth < length; nth++) text += SCRAPS[random.below(SCRAPS.length)]!(random)
  // a right code with a character changed is the likeliest to slip through
  if (random.even() < 0.3 && text.length > 0) {
    const at = random.below(text.length)
    text = text.slice(0, at) + random.below(10) + text.slice(at + 1)
  }
  return text
}

const hasRightCheckDigit = (digits: string) => gtinCheckDigit(digits.slice(0, -1)) === Number(digits.at(-1))

function beginning(random: Chance): string {
  const marks = ["", "", "]C1", "]d2", GS, "(01)", "https://example.com/01/", "https://example.com/a/01/"]
  const mark = marks[random.below(marks.length)]!
  const value = someValue(identifier("01")!, random)
  return mark.includes("01") ? mark + value : `${mark}0${1 + random.below(2)}${value}`
}

function ean(random: Chance): string {
  const body = String(random.below(10 ** [7, 11, 12, 13][random.below(4)]!))
  return body + gtinCheckDigit(body)
}

// what each reader gave is counted, so that a fuzz that reaches nothing is seen
test(`${COUNT} strings of scraps never throw, and never give an item with a wrong check digit`, () => {
  const random = chance(952)
  const seen = { item: 0, text: 0, studio: 0, ask: 0, bad: 0, elements: 0 }
  const mustBeRight = (read: ParsedElements | null) => {
    if (!read?.ok) return
    seen.elements++
    for (const { ai, value } of read.elements) {
      if (ai !== "01" && ai !== "02" && ai !== "00") continue
      if (!/^[0-9]{14}(?:[0-9]{4})?$/.test(value) || !hasRightCheckDigit(value))
        throw new Error(`${ai} ${value}`)
    }
    factsOf(read.elements, "2026-11-25")
  }
  for (let nth = 0; nth < COUNT; nth++) {
    const text = someCode(random)
    mustBeRight(parseElementString(text))
    mustBeRight(parseBracketed(text))
    mustBeRight(parseDigitalLink(text))
    const read = readCode({ text, symbology: SYMBOLOGIES[random.below(SYMBOLOGIES.length)]! })
    seen[read.kind]++
    if (read.kind === "item" && !(/^[0-9]{14}$/.test(read.gtin14) && hasRightCheckDigit(read.gtin14))) {
      throw new Error(`${JSON.stringify(text)} gave ${read.gtin14}`)
    }
    if (read.kind === "bad" && !/^[^\n]{10,200}\.$/.test(read.message)) throw new Error(read.message)
  }
  expect(seen.item).toBeGreaterThan(COUNT / 50)
  expect(seen.elements).toBeGreaterThan(COUNT / 20)
  expect(seen.bad).toBeGreaterThan(COUNT / 20)
  expect(seen.text).toBeGreaterThan(COUNT / 20)
}, 300_000)

test("a code made right is read back whole: as a string, in brackets, behind a symbology identifier", () => {
  const random = chance(953)
  for (let nth = 0; nth < 3_000; nth++) {
    const ais = new Set(
      Array.from({ length: 1 + random.below(6) }, () => ALL_AIS[random.below(ALL_AIS.length)]!),
    )
    const elements = [...ais].map((ai) => ({ ai, value: someValue(identifier(ai)!, random) }))
    const expected = { ok: true, elements, doubts: [] }
    expect(parseElementString(elementString(elements))).toEqual(expected)
    expect(parseBracketed(elements.map(({ ai, value }) => `(${ai})${value}`).join(""))).toEqual(expected)
    const read = readCode({ text: `]d2${elementString(elements)}`, symbology: "DataMatrix" })
    if (read.kind === "item" || read.kind === "text") expect(read.said).toEqual({ elements, doubts: [] })
    // more than may be kept as text, and no item to keep it by
    else expect(elementString(elements).length).toBeGreaterThan(200)
  }
})

test("any single wrong digit of the item number in a code is caught", () => {
  const random = chance(954)
  for (let nth = 0; nth < 3_000; nth++) {
    const value = someValue(identifier("01")!, random)
    const at = random.below(14)
    const wrong = value.slice(0, at) + ((Number(value[at]) + 1 + random.below(9)) % 10) + value.slice(at + 1)
    for (const text of [`]C101${wrong}10A`, `(01)${wrong}(10)A`, `https://example.com/01/${wrong}/10/A`]) {
      expect(readCode({ text, symbology: "QR" }).kind, text).toBe("bad")
    }
  }
})
