import type { StudioFile } from "../../db/file.ts"
import { amountRules } from "./amounts.ts"
import { editRules } from "./edits.ts"
import { fileRules } from "./file.ts"
import { historyRules } from "./history.ts"
import { resinRules } from "./resins.ts"
import type { Finding, Rule } from "./rule.ts"
import { stateRules } from "./states.ts"
import { tracingRules } from "./tracing.ts"

export type { Finding } from "./rule.ts"

export const RULES: readonly Rule[] = [
  ...fileRules,
  ...amountRules,
  ...historyRules,
  ...stateRules,
  ...resinRules,
  ...tracingRules,
  ...editRules,
]

/**
 * Recomputes amounts, costs, states and references of a studio file from its movements and marks, and checks
 * every rule of the ledger. Writes nothing.
 *
 * ```ts
 * verify(file)   // [] when all is well
 * ```
 */
export function verify(file: StudioFile): Finding[] {
  return RULES.flatMap((rule) => rule.check(file).map((finding) => ({ rule: rule.name, ...finding })))
}

/** How much was looked at, for the sentence that says all is well. */
export function sizeOf(file: StudioFile): {
  actions: number
  movements: number
  containers: number
  cups: number
} {
  const count = (table: string) => file.firstText<{ n: number }>(`SELECT count(*) AS n FROM ${table}`)?.n ?? 0
  return {
    actions: count("action"),
    movements: count("movement"),
    containers: count("container"),
    cups: count("cup"),
  }
}
