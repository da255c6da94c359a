import type { IsoDate } from "../domain/dates.ts"
import { type CodeFacts, factsOf } from "../domain/gs1/facts.ts"
import { readCode } from "../domain/gs1.ts"
import { formatAmount } from "../domain/units.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { type PackInfo, packsInCode } from "../supplies/service.ts"
import type { Scan } from "./scan.ts"

/** What a code says of the very thing in the hand, ready for its receipt. */
export interface LabelFacts {
  /** packs in what carries the code: several in an outer carton */
  packs: number
  lot: string | null
  serial: string | null
  madeOn: IsoDate | null
  /** the expiry date, else the best-before date, else the day until which it may be sold */
  expiresOn: IsoDate | null
  contents: CodeFacts["contents"]
  pieces: number | null
  partNumbers: readonly string[]
  /** sentences about what is not quite as it should be */
  doubts: readonly string[]
}

/**
 * What a code says besides which item it is; null where it is a number and no more.
 *
 * @param pack what it turned out to be, to set its contents beside what the code says; null while not known
 */
export function labelFacts(studio: Studio, scan: Scan, pack: PackInfo | null): LabelFacts | null {
  const read = readCode({ text: scan.code, symbology: scan.symbology })
  if (read.kind !== "item" && read.kind !== "text") return null
  const code = read.kind === "item" ? read.gtin14 : read.text
  const inCode = pack === null ? 1 : packsInCode(studio, pack.id, code)
  if (read.said === undefined) return inCode > 1 ? { ...NOTHING, packs: inCode } : null

  const facts = factsOf(read.said.elements, todayOf(studio))
  const packs = facts.inside?.count ?? inCode
  const expiresOn = facts.expiresOn ?? facts.bestBefore ?? facts.sellBy
  return {
    packs,
    lot: facts.lot,
    serial: facts.serial,
    madeOn: facts.madeOn ?? facts.packedOn,
    expiresOn,
    contents: facts.contents,
    pieces: facts.count,
    partNumbers: facts.partNumbers,
    doubts: [
      ...read.said.doubts,
      ...(expiresOn !== null &&
      expiresOn === facts.sellBy &&
      facts.expiresOn === null &&
      facts.bestBefore === null
        ? ["The code only says until when it may be sold: see whether the label has an expiry date."]
        : []),
      ...(pack === null || packs > 1 ? [] : contentDoubts(studio, pack, facts)),
    ],
  }
}

const NOTHING: LabelFacts = {
  packs: 1,
  lot: null,
  serial: null,
  madeOn: null,
  expiresOn: null,
  contents: [],
  pieces: null,
  partNumbers: [],
  doubts: [],
}

/** Labels round: 16 fl oz stands beside 473 mL, and the code holds one of them. */
const ROUNDING = 0.02

/** Whether the pack is set up with what the code says is in it. */
function contentDoubts(studio: Studio, pack: PackInfo, facts: CodeFacts): string[] {
  const { units } = settingsOf(studio)
  const saidAmounts = [
    ...facts.contents,
    ...(facts.count === null ? [] : [{ amount: facts.count, baseUnit: "each" as const }]),
  ]
  return saidAmounts.flatMap(({ amount, baseUnit }) => {
    const inPack = pack.contents.filter((content) => content.baseUnit === baseUnit)
    if (inPack.length === 0) return []
    const whole = inPack.reduce((sum, content) => sum + content.amount * content.containerCount, 0)
    // of a kit or box the code may mean one bottle
    const fits = [whole, ...inPack.map((content) => content.amount)].some(
      (known) => Math.abs(amount - known) <= known * ROUNDING,
    )
    if (fits) return []
    const say = (value: number) =>
      `${formatAmount(value, baseUnit, units)}${baseUnit === "each" ? " pcs" : ""}`
    return [`The code says ${say(amount)}, but this pack is set up with ${say(whole)}. Look at the label.`]
  })
}
