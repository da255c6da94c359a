import { openPool, type Pick } from "../domain/allocation.ts"
import type { IsoDate } from "../domain/dates.ts"
import { layerNeed } from "../domain/layers.ts"
import { type ShelvedOffcut, withoutDrawn } from "../domain/offcuts.ts"
import type { Layer, LayerNeed, Measures, Plan, PlanSupply } from "../domain/plan.ts"
import { suppliesOf } from "../domain/plan-supplies.ts"
import { Refusal, refusalOr } from "../domain/refusal.ts"
import type { Room } from "../domain/room.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { formatAmount } from "../domain/units.ts"
import { wantsOf } from "../domain/wants.ts"
import { blankWorking } from "../domain/workings.ts"
import { type OnHand, onHand, usedUp } from "../ledger/on-hand.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type DrawTaken, type Measured, takenByDraw } from "./measured.ts"
import { scuffNeed } from "./recoat.ts"
import type { ScuffRecipe } from "./scuff.ts"

/** One layer to be applied in one go to some cups. */
export interface Pass {
  layer: Layer
  cupIds: readonly number[]
  /** the batch has had this layer before: what is used once a batch is not used again */
  again: boolean
  /** cups whose blank was taken from the shelf before: a stripped cup keeps its blank */
  withBlank: ReadonlySet<number>
  /** what was measured while it was put on; null: it is taken as planned */
  measured?: Measured | null
  /** of its cups, those that are scuffed and wiped first */
  scuff?: { cupIds: ReadonlySet<number>; recipe: ScuffRecipe } | null
  /** where it is put on; its warmth shortens pot lives. Left out or null: not said */
  room?: Room | null
}

/**
 * What the person says about containers: take these first; take these although past their day; these held more
 * than the book says; and which other supplies to take. One that held more is used even if it is past its day: the
 * page says so where it is chosen.
 */
export interface Say {
  prefer?: readonly number[]
  insist?: readonly number[]
  heldMore?: readonly { containerId: number; amount: number }[]
  /** another supply or resin in place of one, for the batch from now on */
  insteadOf?: readonly InsteadOf[]
}

/** In one batch, what is taken in place of what; null: what the design says, again. */
export type InsteadOf = InsteadOfSupply | InsteadOfResin

export interface InsteadOfSupply {
  supplyId: number
  substituteId: number | null
}

/** A whole resin, its parts A and B, by the ids of the resin systems. */
export interface InsteadOfResin {
  systemId: number
  substituteId: number | null
}

/**
 * A pass, or the scuffing before it, with its need and the containers each draw comes from. Pick i of draw j:
 * `picks` with want j.
 */
export interface Taken {
  pass: Pass
  /** the cups it is for: all of the pass's, or those that are scuffed */
  cupIds: readonly number[]
  /** minutes a cup, of scuffing; null for the layer itself */
  scuffMin: number | null
  need: LayerNeed
  /** what each draw takes: the need's amounts, or those that were measured */
  amounts: readonly DrawTaken[]
  picks: readonly Pick[]
}

export interface Missing {
  supplyId: number
  supply: string
  amount: number
  baseUnit: OnHand["baseUnit"]
  /** the layer at which it first runs out */
  layer: string
}

export type Taking = {
  taken: readonly Taken[]
  shelf: readonly OnHand[]
  supplies: ReadonlyMap<number, PlanSupply>
} & ({ kind: "enough" } | { kind: "short"; missing: readonly Missing[] })

/**
 * Works out which containers some layers, one after the other, would be made from. Writes nothing.
 *
 * @param on the day they are made: it decides what is past its day
 */
export function take(
  studio: Studio,
  plan: Plan,
  passes: readonly Pass[],
  on: IsoDate,
  say: Say = {},
): Taking {
  const measures = measuresOf(studio)
  const supplies = suppliesWith(plan, passes)
  const mayTake = suppliesWith({ ...plan, layers: passes.map((pass) => pass.layer) }, passes)
  const shelf = shelfWith(studio, [...mayTake.keys()], on, say)
  let offcuts = offcutsAmong(shelf, on)
  const jobs = passes.flatMap((pass) => {
    const mine = jobsOf(plan, pass, measures, offcuts)
    for (const { need } of mine) offcuts = withoutDrawn(offcuts, need.draws)
    return mine
  })
  const pool = openPool(
    shelf.map((bottle) => withMore(bottle, heldMoreOf(bottle, say))),
    {
      prefer: say.prefer ?? [],
      insist: new Set([...(say.insist ?? []), ...(say.heldMore ?? []).map((held) => held.containerId)]),
    },
  )
  const missing = new Map<number, Missing>()
  const taken = jobs.map((job): Taken => {
    const { pass, need, cupIds } = job
    const amounts = takenByDraw(need, cupIds.length, job.scuffMin === null ? (pass.measured ?? null) : null)
    const draws = need.draws.map((draw, index) => ({ ...draw, amount: amounts[index]!.amount }))
    const result = pool.takeAll(wantsOf({ ...need, draws }, cupIds.length), on)
    for (const lack of result.missing) {
      const known = missing.get(lack.supplyId)
      const supply = supplies.get(lack.supplyId)!
      missing.set(lack.supplyId, {
        supplyId: lack.supplyId,
        supply: supply.name,
        baseUnit: supply.baseUnit,
        amount: (known?.amount ?? 0) + lack.amount,
        layer: known?.layer ?? pass.layer.name,
      })
    }
    return { ...job, amounts, picks: result.picks }
  })
  const needed = new Set(jobs.flatMap(({ need }) => need.draws.map((draw) => draw.supplyId)))
  const idle = shelf.find((bottle) => heldMoreOf(bottle, say) > 0 && !needed.has(bottle.supplyId))
  if (idle) throw new Refusal(`${idle.code} (${idle.supply}) is not used in this step.`)
  return missing.size === 0
    ? { kind: "enough", taken, shelf, supplies }
    : { kind: "short", taken, shelf, supplies, missing: [...missing.values()] }
}

/** The scuffing before a pass, where there is some, and the layer itself. */
function jobsOf(
  plan: Plan,
  pass: Pass,
  measures: Measures,
  offcuts: readonly ShelvedOffcut[],
): Omit<Taken, "amounts" | "picks">[] {
  const scuffing = scuffNeed(pass)
  const layer = { pass, cupIds: pass.cupIds, scuffMin: null, need: needOf(plan, pass, measures, offcuts) }
  return scuffing === null
    ? [layer]
    : [{ pass, ...scuffing, scuffMin: pass.scuff?.recipe.minutes ?? 0 }, layer]
}

/** Supplies of the plan and of scuffing. */
function suppliesWith(plan: Plan, passes: readonly Pass[]): Map<number, PlanSupply> {
  const supplies = new Map(suppliesOf(plan))
  for (const { scuff } of passes)
    for (const { supply } of scuff?.recipe.uses ?? []) supplies.set(supply.id, supply)
  return supplies
}

/**
 * What a pass takes: as `layerNeed` has it, without blanks for cups that have theirs. A room too warm for even one
 * cup of a mix is passed over: what was done in it is written down all the same, see `roomProblem`.
 */
export function needOf(
  plan: Plan,
  pass: Pass,
  measures: Measures,
  offcuts: readonly ShelvedOffcut[],
): LayerNeed {
  const { layer, cupIds, again, withBlank } = pass
  const go = { again, offcuts }
  const warm = refusalOr(() => layerNeed(plan, layer, cupIds.length, warmed(measures, pass), go))
  const need = warm instanceof Refusal ? layerNeed(plan, layer, cupIds.length, measures, go) : warm
  const kept = cupIds.filter((id) => withBlank.has(id)).length
  if (kept === 0) return need
  const { supply } = plan.blank
  const blanks = cupIds.length - kept
  const draws = need.draws
    .map((draw) =>
      draw.supplyId === supply.id && draw.mix === null
        ? { ...draw, amount: blanks, working: blankWorking(supply, blanks) }
        : draw,
    )
    .filter((draw) => draw.amount > 0)
  return { ...need, draws }
}

/** Offcuts that pieces of a plan can be cut from on that day. */
export function offcutsFor(studio: Studio, plan: Plan, on: IsoDate): ShelvedOffcut[] {
  const ids = plan.layers.flatMap(({ uses }) =>
    uses.flatMap((use) => (use.how === "piece" && use.supply.sheet !== null ? [use.supply.id] : [])),
  )
  if (ids.length === 0) return []
  return offcutsAmong(onHand(studio.file, settingsOf(studio).timeZone, [...new Set(ids)]), on)
}

function offcutsAmong(shelf: readonly OnHand[], on: IsoDate): ShelvedOffcut[] {
  return shelf.flatMap((one) => {
    const { widthUm, heightUm, held, useBy, cameOn } = one
    if (widthUm === null || heightUm === null || held || !isUsableOn(useBy, on) || cameOn > on) return []
    return [{ ...one, widthUm, heightUm }]
  })
}

/** Why the layer cannot be mixed in the room that was said; null: it can. */
export function roomProblem(plan: Plan, pass: Pass, measures: Measures): string | null {
  const { layer, cupIds, again } = pass
  const plain = refusalOr(() => layerNeed(plan, layer, cupIds.length, measures, { again }))
  const warm = refusalOr(() => layerNeed(plan, layer, cupIds.length, warmed(measures, pass), { again }))
  return warm instanceof Refusal && !(plain instanceof Refusal) ? warm.message : null
}

/** What can be measured, in the pass's own room. */
export function warmed(measures: Measures, { room }: Pass): Measures {
  const tenths = room?.celsiusTenths ?? null
  return tenths === null ? measures : { ...measures, roomCelsius: tenths / 10 }
}

/** What this studio can measure. */
export function measuresOf(studio: Studio): Measures {
  const { volumeStepUl, massStepMg } = settingsOf(studio)
  return { volumeStepUl, massStepMg }
}

/**
 * What had come by that day and is on the shelf of the supplies in question, and the empty ones that the person
 * says held more.
 */
function shelfWith(studio: Studio, mayTake: readonly number[], on: IsoDate, say: Say): OnHand[] {
  const { timeZone, units } = settingsOf(studio)
  const saidMore = saidToHoldMore(studio, say)
  const supplyIds = [...mayTake, ...saidMore.map((bottle) => bottle.supply_id)]
  const shelf = onHand(studio.file, timeZone, supplyIds).filter((bottle) => bottle.cameOn <= on)
  for (const { id, supply_id } of saidMore) {
    if (shelf.some((bottle) => bottle.containerId === id)) continue
    const empty = usedUp(studio.file, timeZone, supply_id, EMPTIES_OFFERED)
    shelf.push(...empty.filter((bottle) => bottle.containerId === id))
  }
  for (const { containerId } of say.heldMore ?? []) {
    const bottle = shelf.find((one) => one.containerId === containerId)
    if (!bottle || bottle.held) {
      throw new Refusal("That container is held, or not on the shelf any more. Choose another.", {
        status: 409,
      })
    }
    const said = bottle.amountLeft + heldMoreOf(bottle, say)
    if (said > Math.max(bottle.fullAmount, bottle.amountLeft) * BRIM) {
      const amount = (value: number) => formatAmount(value, bottle.baseUnit, units)
      throw new Refusal(
        `${bottle.code} holds ${amount(bottle.fullAmount)} when it is full; it cannot have held ${amount(said)}. Choose another one too, or count this one on its own page.`,
      )
    }
  }
  return shelf
}

function saidToHoldMore({ file }: Studio, { heldMore = [] }: Say): { id: number; supply_id: number }[] {
  if (heldMore.length === 0) return []
  return file.allText("SELECT id, supply_id FROM container WHERE id IN (SELECT value FROM json_each(?))", [
    JSON.stringify(heldMore.map((held) => held.containerId)),
  ])
}

/** How many emptied containers of a supply a person can say held more. */
export const EMPTIES_OFFERED = 3

/** Makers fill a little more than the label says; past this a number is a slip. Common practice, no source. */
const BRIM = 1.25

function withMore(bottle: OnHand, more: number): OnHand {
  return more === 0 ? bottle : { ...bottle, amountLeft: bottle.amountLeft + more }
}

function heldMoreOf(bottle: OnHand, { heldMore = [] }: Say): number {
  return heldMore
    .filter((held) => held.containerId === bottle.containerId)
    .reduce((sum, held) => sum + held.amount, 0)
}

/** A supply of the plan by its id. @throws {Refusal} it has none of it */
export function supplyIn(plan: Plan, supplyId: number): PlanSupply {
  const found = suppliesOf(plan).get(supplyId)
  if (!found) throw new Refusal("That supply is not in this design.", { status: 404 })
  return found
}
