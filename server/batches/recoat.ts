import { Temporal } from "temporal-polyfill"
import { sayMinutes } from "../designs/service.ts"
import type { LayerNeed, Working } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { BatchProgress, CupProgress } from "./progress.ts"
import type { ScuffRecipe } from "./scuff.ts"
import type { Pass } from "./take.ts"

/** When the next coat may and must go on some cups, and which of them are past that. */
export interface Recoat {
  /** the layer that is on them now */
  layer: string
  /** minutes after it */
  earliestMin: number
  /** from when all of them may be coated */
  earliestAt: string
  /** until when none of them is past its latest recoat; null: no limit is known */
  latestAt: string | null
  /** not all of them may be coated yet */
  early: boolean
  late: readonly CupProgress[]
}

/**
 * The recoat window of cups that have the same number of layers, as their last coat leaves it: by what each was
 * really mixed from.
 *
 * @param at the instant it is asked for, as ISO 8601
 * @returns null while they have no coat
 */
export function recoatOf({ plan }: BatchProgress, cups: readonly CupProgress[], at: string): Recoat | null {
  const layer = plan.layers.find((one) => one.position === cups[0]?.layersDone)
  const windows = cups.flatMap((cup) => {
    const { coatedAt, recoat } = cup
    if (coatedAt === null || recoat === null) return []
    const latestAt = recoat.latestMin === null ? null : after(coatedAt, recoat.latestMin)
    return [
      { cup, earliestMin: recoat.earliestMin, earliestAt: after(coatedAt, recoat.earliestMin), latestAt },
    ]
  })
  if (!layer || windows.length === 0) return null
  const earliestAt = windows.map((one) => one.earliestAt).reduce((a, b) => (isBefore(a, b) ? b : a))
  const latest = windows.flatMap((one) => one.latestAt ?? [])
  return {
    layer: layer.name,
    earliestMin: Math.max(...windows.map((one) => one.earliestMin)),
    earliestAt,
    latestAt: latest.length === 0 ? null : latest.reduce((a, b) => (isBefore(a, b) ? a : b)),
    early: isBefore(at, earliestAt),
    late: windows.flatMap(({ cup, latestAt }) => (latestAt !== null && isBefore(latestAt, at) ? [cup] : [])),
  }
}

/**
 * Adds scuffing to passes: cups that are past their latest recoat are scuffed and wiped before the layer that comes
 * next for them.
 *
 * @param wanted what the person said to it: true, do it; false, they were coated in time; undefined, not asked yet
 * @throws {Refusal} there are such cups and the person has not been asked; a coat would be before the one under it
 */
export function withScuffing(
  batch: BatchProgress,
  passes: readonly Pass[],
  at: string,
  wanted: boolean | undefined,
  recipe: ScuffRecipe,
): Pass[] {
  return passes.map((pass) => {
    const next = cupsUnder(batch, pass)
    refuseBeforeLast(batch, next, at)
    const recoat = recoatOf(batch, next, at)
    if (recoat === null || recoat.late.length === 0 || wanted === false) return pass
    if (wanted === undefined) {
      const serials = recoat.late.map((cup) => cup.serial).join(", ")
      throw new Refusal(
        `${recoat.layer} is past its latest recoat on ${serials}: scuff and wipe first, or say that the next coat was on in time.`,
        { field: "scuff", status: 409 },
      )
    }
    return { ...pass, scuff: { cupIds: new Set(recoat.late.map((cup) => cup.id)), recipe } }
  })
}

/**
 * What to mind where coats go on before the layer under them allows it: that is let pass, but never without a word.
 * Of layers that go on in one go only the first on each cup is spoken of: they share one time.
 */
export function earlyRemarks(batch: BatchProgress, passes: readonly Pass[], at: string): string[] {
  return passes.flatMap((pass) => {
    const recoat = recoatOf(batch, cupsUnder(batch, pass), at)
    if (!recoat?.early) return []
    const { layer, earliestMin } = recoat
    return [`${layer} should have had ${sayMinutes(earliestMin)} before the next coat: look it over.`]
  })
}

/** The cups of a pass that have the layer before it on top, or for one more coat the layer itself. */
function cupsUnder(batch: BatchProgress, { layer, cupIds }: Pass): CupProgress[] {
  return batch.cups.filter(
    (cup) =>
      cupIds.includes(cup.id) && (cup.layersDone === layer.position - 1 || cup.layersDone === layer.position),
  )
}

function refuseBeforeLast({ plan }: BatchProgress, cups: readonly CupProgress[], at: string): void {
  const later = cups.find((cup) => cup.coatedAt !== null && isBefore(at, cup.coatedAt))
  if (!later) return
  const under = plan.layers.find((one) => one.position === later.layersDone)?.name ?? "The layer under it"
  throw new Refusal(
    `${under} went on ${later.serial} after that time: what goes over it cannot have been before. Put a later time, or undo that coat and put in when it was.`,
    { field: "happenedAt", status: 409 },
  )
}

/** What scuffing takes for a pass, each amount explained; null when none of its cups is scuffed. */
export function scuffNeed({ layer, cupIds, scuff }: Pass): { need: LayerNeed; cupIds: number[] } | null {
  const late = cupIds.filter((id) => scuff?.cupIds.has(id))
  if (!scuff || late.length === 0) return null
  const draws = scuff.recipe.uses.map(({ supply, amount }) => ({
    supplyId: supply.id,
    amount: amount * late.length,
    mix: null,
    working: {
      title: `${supply.name} to scuff and wipe ${late.length} ${late.length === 1 ? "cup" : "cups"}`,
      formula: "cups × amount a cup",
      inputs: [
        { name: "cups", value: late.length, unit: "cups", from: "this batch" },
        { name: "amount a cup", value: amount, unit: supply.baseUnit, from: "studio" },
      ],
      result: { value: amount * late.length, unit: supply.baseUnit },
    } satisfies Working,
  }))
  return {
    need: { layerId: layer.id, position: layer.position, mixes: [], system: null, draws },
    cupIds: late,
  }
}

function after(instant: string, minutes: number): string {
  return Temporal.Instant.from(instant).add({ minutes }).toString()
}

function isBefore(a: string, b: string): boolean {
  return Temporal.Instant.compare(Temporal.Instant.from(a), Temporal.Instant.from(b)) < 0
}
