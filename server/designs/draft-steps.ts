import { type Blank, LAYER_KINDS, type LayerKind, type ResinSystem } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { UnitSystem } from "../domain/units.ts"
import type { Supply } from "../supplies/service.ts"
import { type Draft, type DraftLayer, type DraftUse, EMPTY_USE, MOST_LAYERS, MOST_USES } from "./draft.ts"
import { fits, KINDS, SORTS, USE_SORTS, type UseSort } from "./use-sorts.ts"
import { LAYER_WORDS, timeText } from "./words.ts"

/** What new lines are filled in from. */
export interface Choices {
  supplies: readonly Supply[]
  systems: readonly ResinSystem[]
  blanks: readonly Blank[]
  units: UnitSystem
  currency: string
}

/** A draft after one step, and the layer to look at. */
export interface Stepped {
  draft: Draft
  layer: number | null
}

/**
 * Carries out what a button of the editor says: "add-layer:resin", "up:2", "down:2", "copy:2", "remove:2",
 * "restore", "add-use:2:glitter", "remove-use:2:0"; "stay" changes nothing. Layers and lines count from 0.
 *
 * @throws {Refusal} a step nobody offers; more layers or lines than a form holds
 */
export function step(draft: Draft, asked: string, choices: Choices): Stepped {
  const [what, first = "", second = ""] = asked.split(":")
  switch (what) {
    case "stay":
      return { draft, layer: null }
    case "add-layer": {
      const kind = LAYER_KINDS.find((one) => one === first)
      return kind === undefined
        ? unknown()
        : insert(draft, draft.layers.length, newLayer(draft, kind, choices))
    }
    case "copy": {
      const at = indexIn(draft.layers, first)
      return insert(draft, at + 1, structuredClone(draft.layers[at]!))
    }
    case "restore": {
      if (draft.removed === null) return { draft, layer: null }
      const at = Math.min(draft.layers.length, Math.max(0, Number(draft.removed.at) || 0))
      return insert({ ...draft, removed: null }, at, draft.removed.layer)
    }
    case "remove": {
      const at = indexIn(draft.layers, first)
      const layers = draft.layers.toSpliced(at, 1)
      const removed = { at: String(at), layer: draft.layers[at]! }
      return { draft: { ...draft, layers, removed }, layer: null }
    }
    case "up":
    case "down": {
      const from = indexIn(draft.layers, first)
      const to = from + (what === "up" ? -1 : 1)
      if (to < 0 || to >= draft.layers.length) return { draft, layer: from }
      const layers = draft.layers.toSpliced(from, 1).toSpliced(to, 0, draft.layers[from]!)
      return { draft: { ...draft, layers }, layer: to }
    }
    case "add-use": {
      const at = indexIn(draft.layers, first)
      const sort = USE_SORTS.find((one) => one === second)
      if (sort === undefined) return unknown()
      return withUses(draft, at, [...draft.layers[at]!.uses, newUse(draft, sort, choices)])
    }
    case "remove-use": {
      const at = indexIn(draft.layers, first)
      const { uses } = draft.layers[at]!
      return withUses(draft, at, uses.toSpliced(indexIn(uses, second), 1))
    }
    default:
      return unknown()
  }
}

function newLayer(draft: Draft, kind: LayerKind, choices: Choices): DraftLayer {
  const { begins, times } = KINDS[kind]
  const uses = begins.map((sort) => newUse(draft, sort, choices))
  const resin = uses.find((use) => use.sort === "resin")
  const system = choices.systems.find((one) => String(one.id) === resin?.resinSystemId)
  const latest = system?.recoatLatestMin ?? null
  return {
    kind,
    name: freshName(draft, LAYER_WORDS[kind]),
    handsOn: times.handsOn,
    turner: times.turner,
    earliest: times.earliest ?? (system === undefined ? "12 h" : timeText(system.recoatEarliestMin)),
    latest: times.earliest === null && latest !== null ? timeText(latest) : "",
    bandFrom: "",
    bandTo: "",
    open: "1",
    uses,
  }
}

/** A line to begin with: where there is only one choice, or the design mixes one resin already, it is made. */
function newUse(draft: Draft, sort: UseSort, { supplies, systems, units }: Choices): DraftUse {
  const { starts, begins, hows } = SORTS[sort]
  const fitting = supplies.filter((supply) => fits(sort, supply))
  const only = fitting.length === 1 ? fitting[0] : undefined
  const baseUnit = sort === "resin" ? "uL" : (fitting[0]?.baseUnit ?? "each")
  const mixed = draft.layers.flatMap((layer) => layer.uses).findLast((use) => use.resinSystemId !== "")
  const system = mixed?.resinSystemId ?? (systems.length === 1 ? String(systems[0]!.id) : "")
  return {
    ...EMPTY_USE,
    sort,
    how: hows[0]!,
    resinSystemId: sort === "resin" ? system : "",
    supplyId: only === undefined ? "" : String(only.id),
    amount: starts[units][baseUnit] ?? "",
    ...begins[units],
  }
}

/** "Resin coat", "Resin coat 2": layers are told apart by their names. */
function freshName(draft: Draft, name: string): string {
  const taken = new Set(draft.layers.map((layer) => layer.name))
  if (!taken.has(name)) return name
  for (let number = 2; ; number++) if (!taken.has(`${name} ${number}`)) return `${name} ${number}`
}

function insert(draft: Draft, at: number, layer: DraftLayer): Stepped {
  if (draft.layers.length >= MOST_LAYERS) {
    throw new Refusal(`A design has at most ${MOST_LAYERS} layers. Take one out first.`)
  }
  const layers = draft.layers.toSpliced(at, 0, { ...layer, open: "1" })
  return checked({ ...draft, layers }, at)
}

function withUses(draft: Draft, at: number, uses: DraftUse[]): Stepped {
  const layers = draft.layers.with(at, { ...draft.layers[at]!, open: "1", uses })
  return checked({ ...draft, layers }, at)
}

function checked(draft: Draft, layer: number): Stepped {
  const lines = draft.layers.reduce((sum, one) => sum + one.uses.length, 0)
  if (lines > MOST_USES) throw new Refusal(`A design holds at most ${MOST_USES} lines in all its layers.`)
  return { draft, layer }
}

function indexIn(list: readonly unknown[], text: string): number {
  const index = /^\d{1,3}$/.test(text) ? Number(text) : Number.NaN
  return index < list.length ? index : unknown()
}

function unknown(): never {
  throw new Refusal("This page is out of date: open it again.", { status: 400 })
}
