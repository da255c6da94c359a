import { onHand } from "../server/ledger/on-hand.ts"
import { FIRST_SETTINGS, type Studio } from "../server/ledger/studio.ts"
import { countContainer, decant, topUp, writeOff } from "../server/shelf/service.ts"

/** Months ago in which the bottles of one resin were looked after. */
export const LOOKED_AFTER: readonly number[] = [16, 10]

const PARTS = ["Tumble Clear A", "Tumble Clear B"]

/**
 * What a maker does between batches: weighs the open bottles of a resin, fills one up from the next, pours some into a
 * squeeze bottle, makes a test piece. Enough for each to be seen; a year later it is all used up.
 */
export function lookAfterBottles(studio: Studio, month: number): void {
  const key = (name: string) => ({ device: "demo", key: `demo-after-${month}-${name}` })
  const bottlesOf = (supply: string) =>
    onHand(studio.file, FIRST_SETTINGS.timeZone).filter((one) => one.supply === supply && !one.held)
  for (const [nth, supply] of PARTS.entries()) {
    const open = bottlesOf(supply).find((one) => one.openedOn !== null)
    const next = bottlesOf(supply).find((one) => one.openedOn === null)
    if (!open || !next) continue
    // a little more went on than the plans say, of A more than of B
    const amount = open.amountLeft - Math.round(open.amountLeft * (nth === 0 ? 0.03 : 0.01))
    countContainer(studio, key(`weigh-${nth}`), { code: open.code, amount, basis: "weighed" })
    topUp(studio, key(`fill-${nth}`), { fromCode: next.code, toCode: open.code, amount: 60_000 })
    decant(studio, key(`split-${nth}`), { fromCode: open.code, amount: 50_000 })
  }
  const [resin] = bottlesOf(PARTS[0]!)
  if (resin)
    writeOff(studio, key("test"), { code: resin.code, amount: 4_000, kind: "waste", reason: "Test piece" })
}
