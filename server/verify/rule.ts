import type { StudioFile } from "../../db/file.ts"

/** Something that is not as the ledger's rules say, and where. */
export interface Finding {
  /** the rule's own name: "amounts add up" */
  rule: string
  /** the thing it is about, by its code, serial or number */
  where: string
  /** what is wrong, in one sentence */
  sentence: string
}

/** One rule of the book, checked from the movements up: nothing that was kept as a result is believed. */
export interface Rule {
  name: string
  /** Reads only. @returns what is wrong; nothing when all is well */
  check: (file: StudioFile) => Omit<Finding, "rule">[]
}

/** Actions that were taken back, as a condition on the action id in `column`. */
export function undone(column: string): string {
  return `EXISTS (SELECT 1 FROM action r WHERE r.reverses_action_id = ${column})`
}

/** A rule that is one query: every row it gives is wrong. */
export function queryRule(
  name: string,
  text: string,
  sentence: (row: Record<string, string | number | null>) => string,
): Rule {
  return {
    name,
    check: (file) =>
      file
        .allText<Record<string, string | number | null>>(text)
        .map((row) => ({ where: String(row.place), sentence: sentence(row) })),
  }
}
