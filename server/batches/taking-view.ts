import type { BaseUnit } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import { sayLayer } from "../domain/layers.ts"
import type { Measured } from "../domain/mix-card.ts"
import type { PlannedMix, PlanSupply, Working } from "../domain/plan.ts"
import { readableWorking } from "../domain/readable-working.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import type { OnHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { exactly } from "./exactly.ts"
import type { Taken, Taking } from "./take.ts"

/** What is taken of one supply, from which containers, and which others could be on the bench instead. */
export interface SupplyTaking {
  supplyId: number
  supply: string
  baseUnit: BaseUnit
  amount: number
  missing: number
  /** resin or hardener counted the other way than its label says to mix it: what the scale or the cup must show */
  measured: (Measured & { reads: string; mixes: number }) | null
  /** each with the layer it is for, or is scuffed before */
  workings: { working: Working; layer: string }[]
  containers: ContainerTaking[]
  /** it comes from more than one of them */
  several: boolean
  /** something on the bench cannot be used, and why */
  benchProblem: string | null
}

export interface ContainerTaking {
  code: string
  left: number
  /** 0 for one that could be put on the bench */
  taken: number
  onBench: boolean
  openedOn: IsoDate | null
  useBy: IsoDate | null
  isOffcut: boolean
}

/**
 * What some layers would take, by supply in the order of the layers, for a page.
 *
 * @param taken the layers asked about, out of `taking`
 */
export function takingView(
  studio: Studio,
  taking: Taking,
  taken: readonly Taken[],
  on: IsoDate,
): SupplyTaking[] {
  const { units } = settingsOf(studio)
  const bySupply = new Map<number, SupplyTaking>()
  const takenFrom = new Map<number, number>()
  for (const { need, picks, pass, scuffMin } of taken) {
    const layer = `${scuffMin === null ? "" : "scuffing before "}${sayLayer(pass.layer)}`
    for (const [index, draw] of need.draws.entries()) {
      const mine = picks.filter((pick) => pick.want === index)
      const view = bySupply.get(draw.supplyId) ?? emptyView(taking.supplies.get(draw.supplyId)!)
      bySupply.set(draw.supplyId, view)
      view.amount += draw.amount
      view.missing += draw.amount - mine.reduce((sum, pick) => sum + pick.amount, 0)
      view.workings.push({ working: readableWorking(draw.working, units), layer })
      for (const pick of mine)
        takenFrom.set(pick.containerId, (takenFrom.get(pick.containerId) ?? 0) + pick.amount)
    }
    for (const mix of need.mixes) addMeasured(bySupply, mix)
  }
  // on the bench first, then as they are taken from, one after the other
  const turns = [...takenFrom.keys()]
  const turnOf = ({ onBench, containerId }: OnHand) => {
    const turn = turns.indexOf(containerId)
    return onBench ? -1 : turn < 0 ? turns.length : turn
  }
  for (const view of bySupply.values()) {
    const bottles = taking.shelf.filter((bottle) => bottle.supplyId === view.supplyId)
    view.containers = bottles
      .filter((bottle) => !bottle.held && isUsableOn(bottle.useBy, on))
      .sort((a, b) => turnOf(a) - turnOf(b))
      .map(({ containerId, code, amountLeft, onBench, openedOn, useBy, isOffcut }) => ({
        code,
        left: amountLeft,
        taken: takenFrom.get(containerId) ?? 0,
        onBench,
        openedOn,
        useBy,
        isOffcut,
      }))
    view.several = view.containers.filter(({ taken }) => taken > 0).length > 1
    view.benchProblem = benchProblemOf(bottles, on)
  }
  return [...bySupply.values()]
}

/** By weight of what is counted by volume, and the other way round: a ratio holds only as its label means it. */
function addMeasured(views: ReadonlyMap<number, SupplyTaking>, { system, measured }: PlannedMix): void {
  const baseUnit = measured.basis === "mass" ? "mg" : "uL"
  for (const [part, amount] of [
    [system.partA, measured.a],
    [system.partB, measured.b],
  ] as const) {
    const view = views.get(part.id)
    if (!view || view.baseUnit === baseUnit) continue
    const before = view.measured ?? { amount: 0, mixes: 0 }
    const sum: Measured = { amount: before.amount + amount, baseUnit }
    view.measured = { ...sum, reads: exactly(sum), mixes: before.mixes + 1 }
  }
}

function emptyView({ id, name, baseUnit }: PlanSupply): SupplyTaking {
  return {
    supplyId: id,
    supply: name,
    baseUnit,
    amount: 0,
    missing: 0,
    measured: null,
    workings: [],
    containers: [],
    several: false,
    benchProblem: null,
  }
}

function benchProblemOf(bottles: readonly OnHand[], on: IsoDate): string | null {
  const bad = bottles.find((bottle) => bottle.onBench && (bottle.held || !isUsableOn(bottle.useBy, on)))
  if (!bad) return null
  return `${bad.code} stands on the bench but is ${bad.held ? "held" : "past its day"}: it is not used.`
}
