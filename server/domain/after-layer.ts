import { Temporal } from "temporal-polyfill"
import { inOrder, isResin } from "./layers.ts"
import type { Layer, LayerNeed, Plan, ResinSystem } from "./plan.ts"
import { tightest } from "./recoat-limits.ts"

/** When a layer was begun and, if it is, done: instants as ISO 8601. */
export interface LayerTimes {
  startedAt: string
  doneAt?: string
}

/** When the next coat may and must go on, in minutes after a layer is on. */
export interface RecoatWindow {
  earliestMin: number
  /** null: no later limit is known */
  latestMin: number | null
}

/** What comes after a layer. Minutes are counted from when it is on; instants are there when its start is known. */
export type AfterLayer = NextLayer | FullCure

export interface NextLayer extends RecoatWindow {
  kind: "next layer"
  position: number
  name: string
  earliestAt: string | null
  latestAt: string | null
}

export interface FullCure {
  kind: "full cure"
  minutes: number
  at: string | null
}

/**
 * The next layer and when it may and must go on, or the full cure after the last one.
 *
 * The earliest is counted from when the last cup is coated, the latest from the first: so the window holds for
 * every cup. A layer that is not done yet is taken to end after its hands-on minutes, or after those that its
 * mixes take, one after the other.
 *
 * @param need what the layer takes, for its mixes
 */
export function afterLayer(plan: Plan, layer: Layer, need: LayerNeed, times?: LayerTimes): AfterLayer {
  const started = times ? Temporal.Instant.from(times.startedAt) : null
  const mixing = need.mixes.reduce((sum, mix) => sum + mix.system.mixingMin + mix.workMin, 0)
  const done = times?.doneAt
    ? Temporal.Instant.from(times.doneAt)
    : (started?.add({ minutes: Math.max(layer.handsOnMin, mixing) }) ?? null)
  const next = inOrder(plan.layers).find((other) => other.position > layer.position)
  if (!next) {
    const minutes = Math.max(layer.turnerMin, plan.fullCureMin)
    return { kind: "full cure", minutes, at: after(done, minutes) }
  }
  const { earliestMin, latestMin } = recoatWindow(layer)
  return {
    kind: "next layer",
    position: next.position,
    name: next.name,
    earliestMin,
    latestMin,
    earliestAt: after(done, earliestMin),
    latestAt: latestMin === null ? null : after(started, latestMin),
  }
}

/**
 * The window that a layer and every resin in it leave: the latest of the earliest times, the earliest of the
 * latest. A cup on a turner stays on it, so the time on the turner counts as well.
 *
 * @param resins what it was mixed from, where it is on; left out: the plan's
 */
export function recoatWindow(layer: Layer, resins: readonly ResinSystem[] = resinsOf(layer)): RecoatWindow {
  const { recoatEarliestMin, recoatLatestMin } = tightest([layer, ...resins])
  return { earliestMin: Math.max(layer.turnerMin, recoatEarliestMin), latestMin: recoatLatestMin }
}

function resinsOf({ uses }: Layer): ResinSystem[] {
  return uses.filter(isResin).map((use) => use.system)
}

/**
 * Whether a coat goes on before the layer under it allows it.
 *
 * @param under what the layer under it leaves, or for one more coat of a layer that layer itself
 * @param underAt when that was last put on, as ISO 8601
 * @param at when the coat goes on
 */
export function isEarly(under: RecoatWindow, underAt: string, at: string): boolean {
  const earliest = Temporal.Instant.from(underAt).add({ minutes: under.earliestMin })
  return Temporal.Instant.compare(Temporal.Instant.from(at), earliest) < 0
}

function after(instant: Temporal.Instant | null, minutes: number): string | null {
  return instant?.add({ minutes }).toString() ?? null
}
