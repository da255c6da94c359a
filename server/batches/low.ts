import type { BaseUnit } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import { sayAmount } from "../domain/said-amounts.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import type { OnHand } from "../ledger/on-hand.ts"
import { sheetsOf } from "../ledger/sheets.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"

export interface LowSupply {
  supplyId: number
  supply: string
  baseUnit: BaseUnit
  /** what can be used today; held and past its day is not counted */
  left: number
}

/**
 * Which of some supplies are now below their minimum, in the order of their names.
 *
 * @param shelf as it was before something was taken: it knows what is held and what is past its day
 */
export function lowAmong(
  studio: Studio,
  supplyIds: ReadonlySet<number>,
  shelf: readonly OnHand[],
  on: IsoDate,
): LowSupply[] {
  const usable = new Set(
    shelf.filter((one) => !one.held && isUsableOn(one.useBy, on)).map((one) => one.containerId),
  )
  return studio.file
    .allText<LowSupply & { minimum: number; containers: string }>(
      `SELECT s.id AS supplyId, s.name AS supply, s.base_unit AS baseUnit, s.minimum_amount AS minimum, 0 AS left,
         (SELECT json_group_array(json_array(c.id, max(0, c.amount_left - s.kept_back))) FROM container c
          WHERE c.supply_id = s.id AND c.amount_left > 0) AS containers
       FROM supply s WHERE s.minimum_amount > 0 AND s.id IN (SELECT value FROM json_each(?)) ORDER BY s.name`,
      [JSON.stringify([...supplyIds])],
    )
    .flatMap(({ containers, minimum, ...low }) => {
      const left = (JSON.parse(containers) as [number, number][])
        .filter(([id]) => usable.has(id))
        .reduce((sum, [, amount]) => sum + amount, 0)
      return left < minimum ? [{ ...low, left }] : []
    })
}

/** "Clear B is now low: 120 mL left." */
export function lowSentences(studio: Studio, low: readonly LowSupply[]): string[] {
  const { units } = settingsOf(studio)
  const sheets = sheetsOf(studio)
  return low.map(
    ({ supplyId, supply, left, baseUnit }) =>
      `${supply} is now low: ${sayAmount(left, { baseUnit, sheet: sheets.get(supplyId) }, units)} left.`,
  )
}
