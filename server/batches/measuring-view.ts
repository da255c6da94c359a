import type { BaseUnit } from "../../db/tables.ts"
import type { LayerNeed, Plan, PlannedMix } from "../domain/plan.ts"
import { toUnit } from "../domain/units.ts"
import { supplyIn } from "./take.ts"

/** Fields for what was measured: a line for each mix, and one for each can, jar or bottle that can be. */
export function measuringView(plan: Plan, need: LayerNeed, cups: number) {
  const parts = new Set(need.mixes.flatMap(({ system }) => [system.partA.id, system.partB.id]))
  const totals = new Map<number, number>()
  for (const { supplyId, amount } of need.draws)
    if (!parts.has(supplyId)) totals.set(supplyId, (totals.get(supplyId) ?? 0) + amount)
  return {
    pours: poursOf(need.mixes, cups),
    losses: [...totals].flatMap(([supplyId, planned]) => {
      const { name, baseUnit, densityMgPerMl } = supplyIn(plan, supplyId)
      const by = measuredBy(baseUnit, densityMgPerMl)
      return by === null ? [] : [{ supplyId, supply: name, planned, baseUnit, ...by }]
    }),
  }
}

/** How a supply that is no resin part is measured: on the scale before and after, or by the marks; null: counted. */
export function measuredBy(
  baseUnit: BaseUnit,
  densityMgPerMl: number | null,
): { byScale: boolean; byMarks: boolean } | null {
  if (baseUnit === "mg") return { byScale: true, byMarks: false }
  return baseUnit === "uL" ? { byScale: densityMgPerMl !== null, byMarks: true } : null
}

function poursOf(mixes: readonly PlannedMix[], cups: number) {
  let [use, nth, served] = [0, 0, 0]
  return mixes.map((mix, index) => {
    const line = { use, nth, ...pourOf(mix), label: `Mix ${index + 1} of ${mixes.length}`, cups: mix.cups }
    served += mix.cups
    nth += 1
    if (served >= cups) [use, nth, served] = [use + 1, 0, 0]
    return line
  })
}

function pourOf({ system, measured }: PlannedMix) {
  const [unit, left] = measured.basis === "volume" ? (["mL", "mL"] as const) : (["g", "g"] as const)
  const said = (amount: number) => `${Number(toUnit(amount, unit).toFixed(2))} ${unit}`
  return {
    system: system.name,
    a: { name: system.partA.name, planned: said(measured.a) },
    b: { name: system.partB.name, planned: said(measured.b) },
    unit,
    left,
  }
}
