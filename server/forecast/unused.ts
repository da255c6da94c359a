import { type IsoDate, plusDays } from "../domain/dates.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { usableLeft } from "../domain/sprays.ts"
import type { OnHand } from "../ledger/on-hand.ts"
import type { Studio } from "../ledger/studio.ts"

/** Soon: within so many days. */
export const SOON_DAYS = 30

/** Something usable that goes off soon and that no plan uses up. */
export interface Unused {
  containerId: number
  supplyId: number
  code: string
  supply: string
  baseUnit: BaseUnit
  amount: number
  isOffcut: boolean
  useBy: IsoDate
  /** what was paid for that much of it */
  costMicro: number
  /** designs that would use it, by name */
  designs: string[]
}

/** What goes off within 30 days with something left that no order and no batch uses. */
export function unusedOf(
  studio: Studio,
  shelf: readonly OnHand[],
  today: IsoDate,
  takenFrom: ReadonlyMap<number, number>,
): Unused[] {
  const soon = plusDays(today, SOON_DAYS)
  const left = shelf
    .filter((one) => one.useBy !== null && one.useBy <= soon && isUsableOn(one.useBy, today) && !one.held)
    .map((one) => ({
      one,
      amount: usableLeft(one.amountLeft, one.keptBack) - (takenFrom.get(one.containerId) ?? 0),
    }))
    .filter(({ amount }) => amount > 0)
  if (left.length === 0) return []
  const uses = designsUsing(studio)
  return left
    .map(({ one, amount }) => ({
      containerId: one.containerId,
      supplyId: one.supplyId,
      code: one.code,
      supply: one.supply,
      baseUnit: one.baseUnit,
      amount,
      isOffcut: one.isOffcut,
      useBy: one.useBy!,
      costMicro: Math.round((one.costLeftMicro * amount) / one.amountLeft),
      designs: uses.get(one.supplyId) ?? [],
    }))
    .sort((a, b) => (a.useBy < b.useBy ? -1 : a.useBy > b.useBy ? 1 : a.containerId - b.containerId))
}

const USING = `SELECT DISTINCT s.supply_id AS supplyId, d.name FROM (
    SELECT layer_id, supply_id FROM layer_use WHERE supply_id IS NOT NULL
    UNION SELECT u.layer_id, r.part_a_supply_id FROM layer_use u JOIN resin_system r ON r.id = u.resin_system_id
    UNION SELECT u.layer_id, r.part_b_supply_id FROM layer_use u JOIN resin_system r ON r.id = u.resin_system_id) s
  JOIN layer l ON l.id = s.layer_id JOIN design_version v ON v.id = l.version_id JOIN design d ON d.id = v.design_id
  WHERE NOT EXISTS (SELECT 1 FROM design_version later WHERE later.design_id = v.design_id AND later.number > v.number)
  ORDER BY d.name`

/** By supply: the designs whose latest version uses it. */
function designsUsing(studio: Studio): Map<number, string[]> {
  const uses = new Map<number, string[]>()
  for (const { supplyId, name } of studio.file.allText<{ supplyId: number; name: string }>(USING)) {
    uses.set(supplyId, [...(uses.get(supplyId) ?? []), name])
  }
  return uses
}
