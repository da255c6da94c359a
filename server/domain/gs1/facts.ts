import type { IsoDate } from "../dates.ts"
import type { BaseUnit } from "../plan.ts"
import { fromUnit, UNITS, type UnitName } from "../units.ts"
import { dateOfSix } from "./dates.ts"
import type { Element } from "./elements.ts"
import { type ItemNumber, parseItemNumber } from "./item-number.ts"

/** What a code says that a receipt can use; null where it says nothing. */
export interface CodeFacts {
  /** what the thing is */
  item: ItemNumber | null
  /** of a parcel or carton: what is inside, and how many */
  inside: { item: ItemNumber; count: number | null } | null
  lot: string | null
  serial: string | null
  madeOn: IsoDate | null
  packedOn: IsoDate | null
  bestBefore: IsoDate | null
  sellBy: IsoDate | null
  expiresOn: IsoDate | null
  /** pieces in it, where that differs from one to the next */
  count: number | null
  /** what it holds by weight, volume, length or area; to the nearest base unit */
  contents: readonly { amount: number; baseUnit: BaseUnit }[]
  /** the maker's and the buyer's own numbers for it */
  partNumbers: readonly string[]
}

/**
 * What the elements of a code mean to a receipt.
 *
 * @param today decides the century of dates
 */
export function factsOf(elements: readonly Element[], today: IsoDate): CodeFacts {
  const values = new Map(elements.map(({ ai, value }) => [ai, value]))
  const date = (ai: string) => dateOfSix(values.get(ai) ?? "", today)
  const inside = itemIn(values.get("02"))
  return {
    item: itemIn(values.get("01")),
    inside: inside === null ? null : { item: inside, count: numberIn(values.get("37")) },
    lot: values.get("10") ?? null,
    serial: values.get("21") ?? null,
    madeOn: date("11"),
    packedOn: date("13"),
    bestBefore: date("15"),
    sellBy: date("16"),
    expiresOn: date("17"),
    count: numberIn(values.get("30")),
    contents: elements.flatMap(contentsIn),
    partNumbers: ["240", "241"].flatMap((ai) => values.get(ai) ?? []),
  }
}

/** The item that elements are about: the thing itself, else what is inside. */
export function itemOf(elements: readonly Element[]): ItemNumber | null {
  const dataOf = (ai: string) => elements.find((element) => element.ai === ai)?.value
  return itemIn(dataOf("01")) ?? itemIn(dataOf("02"))
}

function itemIn(digits: string | undefined): ItemNumber | null {
  const number = parseItemNumber(digits ?? "")
  return number.ok ? { gtin14: number.gtin14, shown: number.shown } : null
}

function numberIn(digits: string | undefined): number | null {
  return digits === undefined ? null : Number(digits)
}

/** The first three digits say what is measured and in which unit, the fourth how many decimals. */
const MEASURED_IN: Readonly<Record<string, UnitName>> = {
  "310": "kg",
  "311": "m",
  "314": "m²",
  "315": "L",
  "320": "lb",
  "321": "in",
  "322": "ft",
  "323": "yd",
  "350": "in²",
  "351": "ft²",
  "360": "qt",
  "361": "gal",
}

function contentsIn({ ai, value }: Element): CodeFacts["contents"] {
  const unit = ai.length === 4 ? MEASURED_IN[ai.slice(0, 3)] : undefined
  if (unit === undefined) return []
  const amount = Number(`${value}e-${ai[3]}`)
  return [{ amount: fromUnit(amount, unit), baseUnit: UNITS[unit].base }]
}
