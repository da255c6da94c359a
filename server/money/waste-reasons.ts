import { WASTE_REASONS } from "../shelf/service.ts"
import type { Loss } from "./waste.ts"

/** Reasons that the forms offer, or offered once; a person may write another, which counts as other. */
const KNOWN = [...WASTE_REASONS.map((one) => one.word), "Knocked over"]

/** Under which word a loss is counted. */
export function reasonOf({ flow, reason }: Pick<Loss, "flow" | "reason">): string {
  if (flow === "counted") return "Missing when counted"
  if (flow === "given") return "Given away"
  return KNOWN.find((known) => known.toLowerCase() === reason.trim().toLowerCase()) ?? "Other, or not said"
}
