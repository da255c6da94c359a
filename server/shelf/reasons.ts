import type { WriteOffKind } from "./amounts.ts"

/** Why something leaves the shelf without going onto a cup. One tap each. */
export interface WasteReason {
  /** as it is kept with the action, and counted by */
  word: string
  kind: WriteOffKind
  /** how it is told: "Spilled 20 mL of …" */
  verb: string
}

export const WASTE_REASONS: readonly WasteReason[] = [
  { word: "Spilled", kind: "waste", verb: "Spilled" },
  { word: "Test piece", kind: "waste", verb: "Used for a test piece" },
  { word: "Given away", kind: "write-off", verb: "Gave away" },
  { word: "Gone off", kind: "write-off", verb: "Threw away" },
  { word: "Set in the bottle", kind: "write-off", verb: "Threw away" },
  { word: "Can clogged", kind: "write-off", verb: "Threw away" },
  { word: "Damaged", kind: "write-off", verb: "Threw away" },
  { word: "Disposed of", kind: "write-off", verb: "Disposed of" },
]

/** Tapped when none of them fits: then it is said in words. */
export const OTHER_REASON = "Something else"

/** The reason with that word, however it is capitalised. */
export function wasteReason(word: string): WasteReason | undefined {
  return WASTE_REASONS.find((one) => one.word.toLowerCase() === word.trim().toLowerCase())
}
