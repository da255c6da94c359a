import { sayAmount } from "../domain/said-amounts.ts"
import { sheetsOf } from "../ledger/sheets.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { lowSupplies } from "./on-shelf.ts"

/** "Clear part B is low: 200 mL of at least 500 mL." */
export function lowNow(studio: Studio, supplyId: number): string[] {
  const { units } = settingsOf(studio)
  const sheets = sheetsOf(studio)
  return lowSupplies(studio)
    .filter((one) => one.supplyId === supplyId)
    .map((one) => {
      const say = (value: number) =>
        sayAmount(value, { baseUnit: one.baseUnit, sheet: sheets.get(supplyId) }, units)
      return `${one.supply} is low: ${say(one.onHand)} usable, the minimum is ${say(one.minimum)}.`
    })
}
