import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import { count, orEmpty } from "../web/fields.ts"
import type { UseInput, VersionInput } from "./inputs.ts"

/** One figure of a design's plan as measuring suggests it. Layer by position, use by place, both from 1. */
export interface Suggestion {
  layer: number
  use: number
  /** base units, or µm of a film */
  change: { what: "amount" | "drip" | "transfer"; to: number }
}

/** Figures that measuring can suggest; `drip` and `transfer` in ppm. */
const WHAT = ["amount", "drip", "transfer"] as const

/** The address of the editor with one figure filled in; nothing is kept until the person saves. */
export function editorWith(designId: number, { layer, use, change }: Suggestion): string {
  return `/designs/${designId}/edit?layer=${layer}&use=${use}&${change.what}=${change.to}`
}

export const Suggested = z.object({
  layer: orEmpty(count(1000, "Layer")),
  use: orEmpty(count(1000, "Use")),
  amount: orEmpty(count(1e12, "Amount", 0)),
  drip: orEmpty(count(900_000, "Drips", 0)),
  transfer: orEmpty(count(1_000_000, "What lands")),
})

/** A suggestion out of an address; null when it has none. */
export function suggestionIn(asked: z.output<typeof Suggested>): Suggestion | null {
  const what = WHAT.find((one) => asked[one] !== null)
  if (asked.layer === null || asked.use === null || what === undefined) return null
  return { layer: asked.layer, use: asked.use, change: { what, to: asked[what] as number } }
}

/**
 * A version with the suggested figure in its place.
 *
 * @throws {Refusal} 404: its plan has no such layer or use, or the use no such figure
 */
export function suggestedVersion(version: VersionInput, { layer, use, change }: Suggestion): VersionInput {
  let found = false
  const layers = version.layers.map((one, index) =>
    index + 1 === layer
      ? {
          ...one,
          uses: one.uses.map((old, place) => {
            const changed = place + 1 === use ? withFigure(old, change) : null
            found ||= changed !== null
            return changed ?? old
          }),
        }
      : one,
  )
  if (!found) throw new Refusal("This design has no such amount any more.", { status: 404 })
  return { ...version, layers }
}

function withFigure(use: UseInput, { what, to }: Suggestion["change"]): UseInput | null {
  switch (what) {
    case "amount":
      return "amount" in use ? { ...use, amount: to } : null
    case "drip":
      return "dripPpm" in use ? { ...use, dripPpm: to } : null
    case "transfer":
      return "transferPpm" in use ? { ...use, transferPpm: to } : null
  }
}
