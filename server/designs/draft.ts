import { z } from "zod"
import { LAYER_KINDS, type LayerKind } from "../domain/plan.ts"
import { HOW_WORDS, type How, USE_SORTS, type UseSort } from "./use-sorts.ts"

/**
 * A design as it stands in the editor: everything as it was typed, right or wrong, so that adding or moving a
 * layer loses nothing. `draft-entry.ts` makes a `DesignInput` of it.
 */
export interface Draft {
  name: string
  blankSupplyId: string
  price: string
  fullCure: string
  layers: DraftLayer[]
  /** the layer that was taken out last, and where it was */
  removed: { at: string; layer: DraftLayer } | null
}

export interface DraftLayer {
  kind: LayerKind
  name: string
  handsOn: string
  turner: string
  earliest: string
  latest: string
  /** heights above the base; both empty: all that the blank's bare bands leave */
  bandFrom: string
  bandTo: string
  /** "1" while its card is unfolded */
  open: string
  uses: DraftUse[]
}

export interface DraftUse {
  sort: UseSort
  how: How
  resinSystemId: string
  supplyId: string
  amount: string
  share: string
  drip: string
  residue: string
  /** of a piece: `turn` is "1" when it may lie turned */
  width: string
  height: string
  overlap: string
  margin: string
  gap: string
  turn: string
  spoiled: string
  /** of a sprayed film */
  passes: string
  solids: string
  lands: string
}

/** The fields of a line that its sort may leave out. */
export const EMPTY_USE = {
  resinSystemId: "",
  supplyId: "",
  amount: "",
  share: "",
  drip: "",
  residue: "",
  width: "",
  height: "",
  overlap: "",
  margin: "",
  gap: "",
  turn: "",
  spoiled: "",
  passes: "",
  solids: "",
  lands: "",
} as const satisfies Omit<DraftUse, "sort" | "how">

export const MOST_LAYERS = 24
/** A form holds a thousand fields: this many lines, with all layers, still fit. */
export const MOST_USES = 70

const OUT_OF_DATE = "This page is out of date: open it again."
const typed = z.preprocess((raw) => raw ?? "", z.string(OUT_OF_DATE))
/** A box, or what the page itself remembers: "1" or not. */
const mark = z.preprocess((raw) => raw ?? "", z.enum(["", "1"], OUT_OF_DATE))
const list = <Row extends z.ZodType>(row: Row) => z.preprocess((raw) => raw ?? [], z.array(row, OUT_OF_DATE))

const UseTyped = z.object(
  {
    sort: z.enum(USE_SORTS, OUT_OF_DATE),
    how: z.enum(Object.keys(HOW_WORDS) as [How, ...How[]], OUT_OF_DATE),
    resinSystemId: typed,
    supplyId: typed,
    amount: typed,
    share: typed,
    drip: typed,
    residue: typed,
    width: typed,
    height: typed,
    overlap: typed,
    margin: typed,
    gap: typed,
    turn: mark,
    spoiled: typed,
    passes: typed,
    solids: typed,
    lands: typed,
  },
  OUT_OF_DATE,
)
const LayerTyped = z.object(
  {
    kind: z.enum(LAYER_KINDS, OUT_OF_DATE),
    name: typed,
    handsOn: typed,
    turner: typed,
    earliest: typed,
    latest: typed,
    bandFrom: typed,
    bandTo: typed,
    open: mark,
    uses: list(UseTyped),
  },
  OUT_OF_DATE,
)

/** What the editor's form sends: the draft, and which button was pressed. */
export const DraftForm = z.object({
  do: typed,
  key: typed,
  name: typed,
  blankSupplyId: typed,
  price: typed,
  fullCure: typed,
  layers: list(LayerTyped).refine((layers) => layers.length <= MOST_LAYERS, {
    message: `A design has at most ${MOST_LAYERS} layers.`,
  }),
  removed: z.preprocess(
    (raw) => raw ?? null,
    z.object({ at: typed, layer: LayerTyped }, OUT_OF_DATE).nullable(),
  ),
})

export const EMPTY_DRAFT: Draft = {
  name: "",
  blankSupplyId: "",
  price: "",
  fullCure: "72 h",
  layers: [],
  removed: null,
}
