import { daysBetween, plusDays } from "../domain/dates.ts"
import type { BaseUnit, SheetSize, Working } from "../domain/plan.ts"
import { leadTimeFrom, reorderPoint, usePerDay } from "../domain/reorder.ts"
import { forecast } from "../forecast/service.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { suppliesList } from "../supplies/service.ts"
import { toldDays } from "./horizon.ts"

const WEEKS = 26

/** When to order a supply again, and how it came about. */
export interface Reorder {
  supplyId: number
  supply: string
  baseUnit: BaseUnit
  /** one sheet of it; null: not known, or no sheets */
  sheet: SheetSize | null
  /** what can be used today, and what is coming */
  have: number
  /** order when so much or less is left */
  point: number
  /** of it, what is kept against more use or a late delivery than on average */
  safety: number
  isDue: boolean
  minimum: number
  weeks: number
  deliveries: number
  /** from order to door, on average */
  leadDays: number
  leadFrom: "record" | "told"
  working: Working
}

const USED = `SELECT c.supply_id AS supplyId, a.happened_on AS day, -sum(m.amount) AS used
  FROM movement m JOIN container c ON c.id = m.container_id JOIN action a ON a.id = m.action_id
  WHERE m.kind IN ('use', 'count') AND a.happened_on > ?
    AND ${stands("a.id")}
  GROUP BY c.supply_id, a.happened_on`

/** Days from order to door of what was received against what was ordered. */
const DELIVERIES = `SELECT pc.supply_id AS supplyId, p.ordered_on AS orderedOn, min(d.received_on) AS receivedOn
  FROM purchase p JOIN receipt_line l ON l.purchase_id = p.id JOIN delivery d ON d.id = l.delivery_id
    JOIN pack_content pc ON pc.pack_id = p.pack_id
  WHERE ${stands("l.action_id")}
  GROUP BY pc.supply_id, p.id`

/**
 * The reorder point of every supply that was used: from its use in the last weeks (26, or since the book begins, the
 * week under way left out) and from what its deliveries took, for the service level of the settings.
 */
export function reorderPoints(studio: Studio): Reorder[] {
  const today = todayOf(studio)
  const level = settingsOf(studio).serviceLevelPpm / 1e6
  const first =
    studio.file.firstText<{ day: string }>("SELECT min(happened_on) AS day FROM action")?.day ?? today
  const weeks = Math.min(WEEKS, Math.floor(daysBetween(first, today) / 7))
  if (weeks < 1) return []
  const used = new Map<number, number[]>()
  for (const row of studio.file.allText<{ supplyId: number; day: string; used: number }>(USED, [
    plusDays(today, -7 * weeks - 1),
  ])) {
    const week = Math.floor((daysBetween(row.day, today) - 1) / 7)
    if (week < 0 || week >= weeks) continue
    const own = used.get(row.supplyId) ?? new Array<number>(weeks).fill(0)
    used.set(row.supplyId, own)
    own[week] = (own[week] ?? 0) + row.used
  }
  const took = new Map<number, number[]>()
  for (const row of studio.file.allText<{ supplyId: number; orderedOn: string; receivedOn: string }>(
    DELIVERIES,
  )) {
    took.set(row.supplyId, [...(took.get(row.supplyId) ?? []), daysBetween(row.orderedOn, row.receivedOn)])
  }
  const told = toldDays(studio)
  const have = haveNow(studio)
  return suppliesList(studio).flatMap((supply): Reorder[] => {
    const perWeek = used.get(supply.id)?.map((one) => Math.max(0, one)) ?? []
    if (perWeek.every((one) => one === 0)) return []
    const { meanPerDay, sdPerDay } = usePerDay(perWeek)
    const days = took.get(supply.id) ?? []
    const { from, ...lead } = leadTimeFrom(days, supply.leadTimeDays ?? told.get(supply.id)?.least ?? 0)
    const { z, safety, point } = reorderPoint({ meanPerDay, sdPerDay, ...lead }, level)
    const input = (name: string, value: number, unit: string, origin: Working["inputs"][number]["from"]) => ({
      name,
      value,
      unit,
      from: origin,
    })
    return [
      {
        supplyId: supply.id,
        supply: supply.name,
        baseUnit: supply.baseUnit,
        sheet: supply.sheet,
        have: have.get(supply.id) ?? 0,
        point: Math.ceil(point),
        safety: Math.ceil(safety),
        isDue: (have.get(supply.id) ?? 0) <= point,
        minimum: supply.minimumAmount,
        weeks,
        deliveries: days.length,
        leadDays: lead.leadDays,
        leadFrom: from,
        working: {
          title: `When to order ${supply.name} again`,
          formula:
            "use a day × lead time + z × √(lead time × spread of use² + use a day² × spread of lead time²)",
          inputs: [
            input("use a day", meanPerDay, supply.baseUnit, "worked out"),
            input("spread of use", sdPerDay, supply.baseUnit, "worked out"),
            input("lead time", lead.leadDays, "days", from === "record" ? "worked out" : "supply"),
            input(
              "spread of lead time",
              lead.sdLeadDays,
              "days",
              from === "record" ? "worked out" : "common practice",
            ),
            input("how sure", level * 1e6, "ppm", "studio"),
            input("z", z, "", "worked out"),
          ],
          result: { value: Math.ceil(point), unit: supply.baseUnit },
        },
      },
    ]
  })
}

/** By supply: what can be used today and what is coming. */
function haveNow(studio: Studio): Map<number, number> {
  const { leftAfter, needs } = forecast(studio)
  const have = new Map(leftAfter)
  for (const { supplyId, amount } of needs) have.set(supplyId, (have.get(supplyId) ?? 0) + amount)
  return have
}
