import type { BaseUnit, MovementBasis, MovementKind } from "../../db/tables.ts"
import { type Event, type Stretch, stretches } from "../domain/counted-use.ts"
import type { IsoDate } from "../domain/dates.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"

/** A supply's stretches between counts, and their sums. Amounts in its base unit. */
export interface CountedSupply {
  supplyId: number
  supply: string
  baseUnit: BaseUnit
  planned: number
  counted: number
  bottles: (Stretch & { code: string })[]
}

/** A happening at its place in the book: after which movement it stands. */
interface Placed {
  containerId: number
  at: number
  event: Event
}

/** What counts say was used of each supply, beside what its plans say; supplies that were counted twice at least. */
export function countedUse(studio: Studio): CountedSupply[] {
  const events = new Map<number, Placed[]>()
  for (const one of [...moved(studio), ...foundAsBooked(studio)])
    events.set(one.containerId, [...(events.get(one.containerId) ?? []), one])
  const supplies = new Map<number, CountedSupply>()
  const containers = studio.file.allText<{
    id: number
    code: string
    supplyId: number
    supply: string
    baseUnit: BaseUnit
  }>(
    `SELECT c.id, c.code, s.id AS supplyId, s.name AS supply, s.base_unit AS baseUnit FROM container c
     JOIN supply s ON s.id = c.supply_id ORDER BY s.name, c.id`,
  )
  for (const { id, code, ...supply } of containers) {
    const mine = (events.get(id) ?? []).sort((a, b) => a.at - b.at).map((one) => one.event)
    for (const stretch of stretches(mine)) {
      const known = supplies.get(supply.supplyId) ?? { ...supply, planned: 0, counted: 0, bottles: [] }
      known.planned += stretch.planned
      known.counted += stretch.counted
      known.bottles.push({ code, ...stretch })
      supplies.set(supply.supplyId, known)
    }
  }
  return [...supplies.values()]
}

/** Fillings, uses and counts that changed an amount. A count of the shelf stands where its line was written. */
function moved(studio: Studio): Placed[] {
  return studio.file
    .allText<{
      containerId: number
      at: number
      kind: MovementKind
      basis: MovementBasis
      amount: number
      on: IsoDate
      isFirst: number
    }>(
      `SELECT m.container_id AS containerId, m.kind, m.basis, m.amount, a.happened_on AS "on",
         coalesce((SELECT l.movement_id + 0.5 FROM stocktake_end e JOIN stocktake_line l ON l.stocktake_id = e.stocktake_id
           WHERE e.action_id = m.action_id AND l.container_id = m.container_id AND ${stands("l.action_id")}
           ORDER BY l.id DESC LIMIT 1), m.id) AS at,
         m.id = (SELECT min(f.id) FROM movement f WHERE f.container_id = m.container_id) AS isFirst
       FROM movement m JOIN action a ON a.id = m.action_id
       WHERE m.container_id IN (SELECT container_id FROM movement WHERE kind = 'count' UNION SELECT container_id FROM stocktake_line
           UNION SELECT c.id FROM action k JOIN container c ON c.code = json_extract(k.answer, '$.code') WHERE k.kind IN ('count', 'weigh'))
         AND (m.kind IN ('use', 'count') OR isFirst) AND ${stands("a.id")} ORDER BY m.id`,
    )
    .map(({ containerId, at, kind, basis, amount, on, isFirst }): Placed => {
      if (isFirst)
        return {
          containerId,
          at,
          event: { what: "filled", on, isKnown: kind === "transfer" || basis !== "estimated" },
        }
      if (kind === "count")
        return {
          containerId,
          at,
          event: { what: "counted", on, difference: amount, isExact: basis !== "estimated" },
        }
      return { containerId, at, event: { what: "used", amount: -amount, isPlanned: basis === "planned" } }
    })
}

/** Counts that found just what the book said: they moved nothing, and yet somebody knew. */
function foundAsBooked(studio: Studio): Placed[] {
  return studio.file
    .allText<{ containerId: number; at: number; on: IsoDate }>(
      `SELECT l.container_id AS containerId, l.movement_id + 0.5 AS at, a.happened_on AS "on"
         FROM stocktake_line l JOIN action a ON a.id = l.action_id JOIN stocktake_end e ON e.stocktake_id = l.stocktake_id
         WHERE l.found = l.book AND l.basis <> 'estimated' AND e.how = 'accepted' AND ${stands("e.action_id")} AND ${stands("a.id")}
           AND l.id = (SELECT max(k.id) FROM stocktake_line k WHERE k.stocktake_id = l.stocktake_id
             AND k.container_id = l.container_id AND ${stands("k.action_id")})
       UNION ALL
       SELECT c.id, (SELECT max(m.id) + 0.5 FROM movement m WHERE m.action_id < a.id), a.happened_on
         FROM action a JOIN container c ON c.code = json_extract(a.answer, '$.code')
         WHERE a.kind IN ('count', 'weigh') AND json_extract(a.answer, '$.difference') = 0 AND ${stands("a.id")}`,
    )
    .map(({ containerId, at, on }) => ({
      containerId,
      at,
      event: { what: "counted", on, difference: 0, isExact: true },
    }))
}
