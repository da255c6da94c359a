import { Refusal } from "../domain/refusal.ts"
import type { VesselWord } from "../domain/vessels.ts"
import type { WriteOffKind } from "./amounts.ts"

/** Why something leaves the shelf without going onto a cup. One tap each. */
export interface WasteReason {
  /** as it is kept with the action, and counted by */
  word: string
  kind: WriteOffKind
  /** how it is told: "Spilled 20 mL of …" */
  verb: string
  /** only of what is called so: nothing clogs but a can */
  vessel?: VesselWord["one"]
}

export const WASTE_REASONS: readonly WasteReason[] = [
  { word: "Spilled", kind: "waste", verb: "Spilled" },
  { word: "Test piece", kind: "waste", verb: "Used for a test piece" },
  { word: "Given away", kind: "write-off", verb: "Gave away" },
  { word: "Gone off", kind: "write-off", verb: "Threw away" },
  { word: "Set in the bottle", kind: "write-off", verb: "Threw away", vessel: "bottle" },
  { word: "Can clogged", kind: "write-off", verb: "Threw away", vessel: "can" },
  { word: "Damaged", kind: "write-off", verb: "Threw away" },
  { word: "Disposed of", kind: "write-off", verb: "Disposed of" },
]

/** Tapped when none of them fits: then it is said in words. */
export const OTHER_REASON = "Something else"

/** What is offered for a container that is called so, last that none fits. */
export function reasonsFor({ one }: VesselWord): string[] {
  const fitting = WASTE_REASONS.filter(({ vessel = one }) => vessel === one)
  return [...fitting.map(({ word }) => word), OTHER_REASON]
}

/** The reason with that word, however it is capitalised. */
export function wasteReason(word: string): WasteReason | undefined {
  return WASTE_REASONS.find((one) => one.word.toLowerCase() === word.trim().toLowerCase())
}

/**
 * Why something goes, as a form says it: a tapped reason with what else was said, or words alone.
 *
 * @throws {Refusal} no reason was tapped, and the form does not say how it left either
 */
export function readReason(form: { why: string | null; kind: WriteOffKind | null; reason: string }): {
  kind: WriteOffKind
  reason: string
  note?: string
} {
  const { why, kind, reason } = form
  const tapped = why === null ? undefined : wasteReason(why)
  if (tapped) return { kind: tapped.kind, reason: tapped.word, note: reason }
  if (why === OTHER_REASON) return { kind: kind ?? "write-off", reason }
  if (kind === null) throw new Refusal("Tap why it goes.", { field: "why" })
  return { kind, reason }
}
