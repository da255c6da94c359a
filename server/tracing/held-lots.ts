import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { usesOfLots } from "./lot.ts"

/** A lot that is held and on a cup. */
export interface HeldLot {
  lotId: number
  supply: string
  number: string | null
}

/** What of held lots stays on cups: not what was stripped off again, nor gloves, wipes and solvents. */
const HELD_ON_CUPS = `SELECT DISTINCT cc.cup_id AS cupId, l.id AS lotId, s.name AS supply, l.number
  FROM (${usesOfLots("lot h CROSS JOIN container_lot t ON t.lot_id = h.id", "h.held = 1")}) used
    CROSS JOIN coat c ON c.id = used.coat_id
    CROSS JOIN coat_cup cc ON cc.coat_id = c.id
    JOIN layer y ON y.id = c.layer_id JOIN lot l ON l.id = used.lot_id JOIN supply s ON s.id = l.supply_id
  WHERE cc.cup_id IN (SELECT value FROM json_each(?)) AND ${stands("c.action_id")}
    AND s.kind NOT IN ('solvent', 'abrasive', 'consumable', 'packaging')
    AND NOT EXISTS (SELECT 1 FROM strip x WHERE x.cup_id = cc.cup_id AND x.action_id > c.action_id
      AND x.from_position <= y.position AND ${stands("x.action_id")})
  ORDER BY cc.cup_id, l.id`

/** The held lots on each of these cups, by cup; a cup without any is not in it. */
export function heldLotsOn({ file }: Studio, cupIds: readonly number[]): Map<number, HeldLot[]> {
  const held = new Map<number, HeldLot[]>()
  const rows = file.allText<HeldLot & { cupId: number }>(HELD_ON_CUPS, [JSON.stringify(cupIds)])
  for (const { cupId, ...lot } of rows) held.set(cupId, [...(held.get(cupId) ?? []), lot])
  return held
}

/** “lot held: Clear A, lot A-17” */
export function heldWords({ supply, number }: HeldLot): string {
  return `lot held: ${supply}, ${number === null ? "lot without a number" : `lot ${number}`}`
}
