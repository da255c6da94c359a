import { WASTE_REASONS } from "../shelf/service.ts"
import type { Loss } from "./waste.ts"

/** Under which word a loss is counted: a reason that the forms offer, or other. */
export function reasonOf({ flow, reason }: Pick<Loss, "flow" | "reason">): string {
  if (flow === "counted") return "Missing when counted"
  const said = reason.trim().toLowerCase()
  return WASTE_REASONS.find(({ word }) => word.toLowerCase() === said)?.word ?? "Other, or not said"
}
