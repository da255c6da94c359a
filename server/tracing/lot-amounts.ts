import { type BottleChange, type LotParts, partsByLot } from "../domain/mixed-lots.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"

/** What still stands of the changes of every bottle that a lot was in, and of those that were poured into these. */
const CHANGES = `WITH RECURSIVE bottle(id) AS (
    SELECT container_id FROM container_lot WHERE lot_id = ?
    UNION SELECT m.source_container_id FROM bottle b CROSS JOIN container_lot t ON t.container_id = b.id
      CROSS JOIN movement m ON m.id = t.movement_id WHERE m.source_container_id IS NOT NULL)
  SELECT m.container_id AS bottleId, c.lot_id AS ownLotId, m.kind, m.amount, m.source_container_id AS sourceId,
    m.coat_id AS coatId
  FROM bottle b CROSS JOIN movement m ON m.container_id = b.id JOIN container c ON c.id = b.id
  WHERE m.kind <> 'reverse' AND ${stands("m.action_id")} ORDER BY m.id`

/** What of a lot went which way, in the supply's base unit; of bottles that hold other lots too, its own share. */
export interface LotAmounts {
  came: number
  onCups: number
  wasted: number
  /** what counts found missing (above zero) or too much */
  unexplained: number
  /** by container, of those that it is or was in */
  left: Map<number, number>
  /** poured into bottles of other lots, less what was poured back; it is among the amounts above */
  pouredOn: number
  /** of other lots, poured into bottles of this one, less what was poured on; it is not among the amounts above */
  pouredIn: number
}

/** Follows a lot's share through all bottles: came = on cups + wasted + unexplained + left, to the last unit. */
export function lotAmounts({ file }: Studio, lotId: number): LotAmounts {
  const changes = file.allText<BottleChange>(CHANGES, [lotId])
  const amounts: LotAmounts = {
    came: 0,
    onCups: 0,
    wasted: 0,
    unexplained: 0,
    left: new Map(),
    pouredOn: 0,
    pouredIn: 0,
  }
  const ownLots = new Map(changes.map((change) => [change.bottleId, change.ownLotId]))
  for (const [index, parts] of partsByLot(changes).entries()) {
    const change = changes[index]!
    const part = parts.get(lotId) ?? 0
    amounts.left.set(change.bottleId, (amounts.left.get(change.bottleId) ?? 0) + part)
    switch (change.kind) {
      case "receive":
        amounts.came += part
        break
      case "use":
        amounts.onCups -= part
        break
      case "waste":
      case "write-off":
        amounts.wasted -= part
        break
      case "count":
        amounts.unexplained -= part
        break
      case "transfer":
        if (change.sourceId !== null) countPour(amounts, lotId, parts, change, ownLots.get(change.sourceId))
    }
  }
  return amounts
}

/** Only what goes between a bottle of the lot and one of another counts as poured on or in. */
function countPour(
  amounts: LotAmounts,
  lotId: number,
  parts: LotParts,
  change: BottleChange,
  sourceLotId: number | undefined,
): void {
  const [fromOwn, intoOwn] = [sourceLotId === lotId, change.ownLotId === lotId]
  if (fromOwn === intoOwn) return
  const mine = parts.get(lotId) ?? 0
  const others = change.amount - mine
  amounts.pouredOn += fromOwn ? mine : -mine
  amounts.pouredIn += intoOwn ? others : -others
}
