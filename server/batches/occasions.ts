import { isResin } from "../domain/layers.ts"
import type { Sample } from "../domain/learning.ts"
import type { Layer, LayerKind, Plan, ResinSystem, Use } from "../domain/plan.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { resinSystems } from "../supplies/service.ts"
import { mixedUlOf } from "./measured.ts"

/** A kind of layer with what it takes there: a supply, or a resin's A and B together. */
export interface Measurable {
  kind: LayerKind
  what: "supply" | "resin"
  /** of the supply or the resin system */
  id: number
}

/** One time something was measured while a layer was put on. Resin in µL mixed, without what stayed in the cup. */
export interface Occasion extends Measurable {
  designId: number
  versionId: number
  sample: Sample
}

/** A coat of which something was measured. */
const MEASURED_COATS = `SELECT c.id AS coatId, c.action_id AS actionId, l.position, l.kind, v.id AS versionId,
    v.design_id AS designId, x.resin_system_id AS systemId, x.planned_a AS plannedA, x.planned_b AS plannedB,
    x.residue_ul AS residueUl, (
      SELECT f.left_ul FROM mix_left f WHERE f.coat_id = c.id AND ${stands("f.action_id")} ORDER BY f.id DESC LIMIT 1
    ) AS leftUl
  FROM coat c JOIN layer l ON l.id = c.layer_id JOIN design_version v ON v.id = l.version_id
    LEFT JOIN mix x ON x.coat_id = c.id
  WHERE ${stands("c.action_id")} AND c.id IN (SELECT coat_id FROM coat_actual UNION SELECT coat_id FROM mix_left)
  ORDER BY c.id`

/** Of each such coat and supply what was planned, and what was measured last. */
const MEASURED_AMOUNTS = `SELECT p.coat_id AS coatId, p.supply_id AS supplyId, p.planned, (
    SELECT y.amount FROM coat_actual y WHERE y.coat_id = p.coat_id AND y.supply_id = p.supply_id
      AND ${stands("y.action_id")} ORDER BY y.id DESC LIMIT 1
  ) AS actual
  FROM coat_plan p WHERE p.coat_id IN (SELECT coat_id FROM coat_actual)`

interface MeasuredCoat {
  coatId: number
  actionId: number
  position: number
  kind: LayerKind
  versionId: number
  designId: number
  systemId: number | null
  plannedA: number
  plannedB: number
  residueUl: number
  leftUl: number | null
}

/**
 * Every occasion on which someone measured: each mix is one; a can weighed once for several coats of a layer is
 * one as well. What was undone does not count, and of several measures the last one does.
 */
export function occasions(studio: Studio): Occasion[] {
  const { file } = studio
  const coats = file.allText<MeasuredCoat>(MEASURED_COATS)
  // also one that stood in for a design's own
  const systems = new Map(resinSystems(studio).map((system) => [system.id, system]))
  const amounts = new Map<number, { supplyId: number; planned: number; actual: number }[]>()
  for (const row of file.allText<{
    coatId: number
    supplyId: number
    planned: number
    actual: number | null
  }>(MEASURED_AMOUNTS)) {
    if (row.actual === null) continue
    amounts.set(row.coatId, [...(amounts.get(row.coatId) ?? []), { ...row, actual: row.actual }])
  }
  const found: Occasion[] = []
  const weighed = new Map<string, Occasion>()
  for (const coat of coats) {
    const measured = amounts.get(coat.coatId) ?? []
    const system = systems.get(coat.systemId ?? 0)
    if (system) found.push(...ofMix(coat, system, measured))
    for (const { supplyId, planned, actual } of measured) {
      if (supplyId === system?.partA.id || supplyId === system?.partB.id || planned <= 0) continue
      const key = `${coat.actionId} ${coat.position} ${supplyId}`
      const known = weighed.get(key)
      if (known) {
        known.sample = {
          planned: known.sample.planned + planned,
          actual: known.sample.actual + actual,
        }
        continue
      }
      const occasion: Occasion = {
        ...whereOf(coat),
        what: "supply",
        id: supplyId,
        sample: { planned, actual },
      }
      weighed.set(key, occasion)
      found.push(occasion)
    }
  }
  return found
}

function ofMix(
  coat: MeasuredCoat,
  system: ResinSystem,
  measured: readonly { supplyId: number; actual: number }[],
): Occasion[] {
  const part = (id: number) => measured.find((one) => one.supplyId === id)?.actual
  const [a, b] = [part(system.partA.id), part(system.partB.id)]
  if ((a === undefined || b === undefined) && coat.leftUl === null) return []
  const poured = mixedUlOf(system, a ?? coat.plannedA, b ?? coat.plannedB)
  const planned = mixedUlOf(system, coat.plannedA, coat.plannedB) - coat.residueUl
  if (planned <= 0) return []
  const actual = Math.max(0, poured - (coat.leftUl ?? coat.residueUl))
  return [{ ...whereOf(coat), what: "resin", id: system.id, sample: { planned, actual } }]
}

function whereOf({ kind, designId, versionId }: MeasuredCoat) {
  return { kind, designId, versionId }
}

/** The uses of a plan that take something in a kind of layer, and where they stand. */
export function usesOf(
  plan: Plan,
  { kind, what, id }: Measurable,
): { layer: Layer; use: Use; place: number }[] {
  return plan.layers
    .filter((layer) => layer.kind === kind)
    .flatMap((layer) => layer.uses.map((use, index) => ({ layer, use, place: index + 1 })))
    .filter(({ use }) =>
      isResin(use) ? what === "resin" && use.system.id === id : what === "supply" && use.supply.id === id,
    )
}
