import type { BaseUnit } from "../../db/tables.ts"
import { isResin } from "../domain/layers.ts"
import type { LayerNeed, Plan, ResinSystem, SheetSize } from "../domain/plan.ts"
import { Refusal, refusalOr } from "../domain/refusal.ts"
import { mixedFrom } from "../domain/resin-parts.ts"
import { sayAmount } from "../domain/said-amounts.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { usableLeft } from "../domain/sprays.ts"
import { formatAmount } from "../domain/units.ts"
import { onHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { resinSubstitutes, resinSystems, substitutes, suppliesList } from "../supplies/service.ts"
import type { BatchProgress } from "./progress.ts"
import { withInsteadOf } from "./substitutes.ts"
import { type InsteadOf, measuresOf, needOf, type Pass } from "./take.ts"

/** Something that could be taken in a batch in place of what is short. */
export interface OtherWay {
  choice: InsteadOf
  /** "Dome lids", "Hard Gloss in place of Tumble Clear", "Tumble Clear again" */
  name: string
  /** "40 left", "1.2 L can be mixed" */
  left: string
  /** the same as a number, of mixed resin in µL; null: A and B are there, but how much they make cannot be said */
  amount: number | null
  baseUnit: BaseUnit
  /** one sheet of it; left out or null: not known, or no sheets */
  sheet?: SheetSize | null
  /** how much of it some layers take, to be held against `amount` */
  takenIn: (needs: readonly LayerNeed[]) => number
}

/**
 * What could be taken in a batch in place of a supply that is short: what is allowed in its place, or in place of the
 * resin it is a part of; and the design's own where something stands in for it already. Only what is on the shelf,
 * of a resin both parts.
 */
export function otherWays(studio: Studio, plan: Plan, supplyId: number): OtherWay[] {
  const today = todayOf(studio)
  const left = new Map<number, number>()
  for (const one of onHand(studio.file, settingsOf(studio).timeZone)) {
    if (one.held || !isUsableOn(one.useBy, today)) continue
    left.set(one.supplyId, (left.get(one.supplyId) ?? 0) + usableLeft(one.amountLeft, one.keptBack))
  }
  return [...otherSupplies(studio, plan, supplyId, left), ...otherResins(studio, plan, supplyId, left)]
}

/**
 * "40 left", or "40 left, 60 needed" where some layers would take more than that.
 *
 * @param passesOf the layers, of the batch with another in place of something
 * @param insteadOf what is taken in place of something besides
 */
export function leftWords(
  studio: Studio,
  batch: BatchProgress,
  passesOf: (batch: BatchProgress) => readonly Pass[],
  insteadOf: readonly InsteadOf[],
  { choice, left, amount, baseUnit, sheet = null, takenIn }: OtherWay,
): string {
  if (amount === null) return left
  const needs = refusalOr(() => {
    const other = withInsteadOf(studio, batch, [...insteadOf, choice])
    return passesOf(other).map((pass) => needOf(other.plan, pass, measuresOf(studio), []))
  })
  // what cannot be worked out with it is refused, with the reason, once it is chosen
  const needed = needs instanceof Refusal ? 0 : takenIn(needs)
  return needed <= amount
    ? left
    : `${left}, ${sayAmount(needed, { baseUnit, sheet }, settingsOf(studio).units)} needed`
}

function otherSupplies(
  studio: Studio,
  plan: Plan,
  supplyId: number,
  left: ReadonlyMap<number, number>,
): OtherWay[] {
  const { units } = settingsOf(studio)
  const own = ownSupplyOf(plan, supplyId)
  if (own === null) return []
  const back = own === supplyId ? [] : [{ id: own, substituteId: null }]
  const others = (substitutes(studio).get(own) ?? [])
    .filter((one) => one.supplyId !== supplyId)
    .map((one) => ({ id: one.supplyId, substituteId: one.supplyId }))
  const supplies = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
  return [...back, ...others].flatMap(({ id, substituteId }) => {
    const amount = left.get(id) ?? 0
    const { name, baseUnit, sheet } = supplies.get(id)!
    if (amount <= 0) return []
    return [
      {
        choice: { supplyId: own, substituteId },
        name,
        left: `${sayAmount(amount, { baseUnit, sheet }, units)} left`,
        amount,
        baseUnit,
        sheet,
        takenIn: (needs) => drawnOf(needs, id),
      },
    ]
  })
}

function otherResins(
  studio: Studio,
  plan: Plan,
  supplyId: number,
  left: ReadonlyMap<number, number>,
): OtherWay[] {
  const short = resinsWith(plan, supplyId)
  if (short.length === 0) return []
  const systems = new Map(resinSystems(studio).map((system) => [system.id, system]))
  const allowed = resinSubstitutes(studio)
  return short.flatMap(({ own, current }) => {
    const back = own.id === current.id ? [] : [{ system: own, substituteId: null }]
    const others = (allowed.get(own.id) ?? [])
      .filter((id) => id !== current.id)
      .map((id) => ({ system: systems.get(id)!, substituteId: id }))
    return [...back, ...others].flatMap(({ system, substituteId }): OtherWay[] => {
      const said = mixable(studio, system, left)
      if (said === null) return []
      return [
        {
          choice: { systemId: own.id, substituteId },
          name: substituteId === null ? `${system.name} again` : `${system.name} in place of ${own.name}`,
          ...said,
          baseUnit: "uL",
          takenIn: (needs) => mixedOf(needs, system.id),
        },
      ]
    })
  })
}

/** How much of a resin can be mixed from what is left of both parts; null: nothing. */
function mixable(
  studio: Studio,
  system: ResinSystem,
  left: ReadonlyMap<number, number>,
): Pick<OtherWay, "left" | "amount"> | null {
  const { units } = settingsOf(studio)
  const [a, b] = [left.get(system.partA.id) ?? 0, left.get(system.partB.id) ?? 0]
  if (a <= 0 || b <= 0) return null
  const mixed = refusalOr(() => mixedFrom(system, a, b))
  if (mixed instanceof Refusal) {
    const [ofA, ofB] = [
      formatAmount(a, system.partA.baseUnit, units),
      formatAmount(b, system.partB.baseUnit, units),
    ]
    return { left: `A ${ofA}, B ${ofB} left`, amount: null }
  }
  return mixed <= 0 ? null : { left: `${formatAmount(mixed, "uL", units)} can be mixed`, amount: mixed }
}

/** The design's own supply behind one that is taken now. */
function ownSupplyOf(plan: Plan, supplyId: number): number | null {
  for (const use of plan.layers.flatMap((layer) => layer.uses)) {
    if (isResin(use) || use.supply.id !== supplyId) continue
    return (use.inPlaceOf ?? use).supply.id
  }
  return null
}

/** The resins of a plan that a supply is a part of: the design's own, and what is taken for it now. */
function resinsWith(plan: Plan, supplyId: number): { own: ResinSystem; current: ResinSystem }[] {
  const found = new Map<number, { own: ResinSystem; current: ResinSystem }>()
  for (const use of plan.layers.flatMap((layer) => layer.uses)) {
    if (!isResin(use)) continue
    const { system: current, inPlaceOf: own = current } = use
    if (current.partA.id === supplyId || current.partB.id === supplyId) found.set(own.id, { own, current })
  }
  return [...found.values()]
}

function drawnOf(needs: readonly LayerNeed[], supplyId: number): number {
  return needs
    .flatMap(({ draws }) => draws)
    .reduce((sum, draw) => sum + (draw.supplyId === supplyId ? draw.amount : 0), 0)
}

function mixedOf(needs: readonly LayerNeed[], systemId: number): number {
  return needs
    .flatMap(({ mixes }) => mixes)
    .reduce((sum, { system, mixedUl }) => sum + (system.id === systemId ? mixedUl : 0), 0)
}
