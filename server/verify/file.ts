import { openStudioFile, schemaOf } from "../../db/migrate.ts"
import type { Rule } from "./rule.ts"

/** The database itself is sound. */
const sound: Rule = {
  name: "the file is sound",
  check: (file) =>
    file
      .allText<{ integrity_check: string }>("PRAGMA integrity_check")
      .filter((row) => row.integrity_check !== "ok")
      .map((row) => ({ where: "file", sentence: row.integrity_check })),
}

const references: Rule = {
  name: "references lead somewhere",
  check: (file) =>
    file
      .allText<{ table: string; rowid: number | null; parent: string }>("PRAGMA foreign_key_check")
      .map(({ table, rowid, parent }) => ({
        where: `${table} ${rowid ?? ""}`.trim(),
        sentence: `It points at a row of ${parent} that is not there.`,
      })),
}

/** Tables, indexes and triggers are those this program makes, no more and no fewer. */
const schema: Rule = {
  name: "the schema is this program's",
  check: (file) => {
    const fresh = openStudioFile(":memory:")
    const ours = schemaOf(fresh)
    fresh.close()
    const theirs = schemaOf(file)
    return [...new Set([...ours.keys(), ...theirs.keys()])]
      .filter((name) => ours.get(name) !== theirs.get(name))
      .map((name) => ({
        where: name,
        sentence: !theirs.has(name)
          ? "It is missing from the file."
          : ours.has(name)
            ? "It is not as this program makes it."
            : "It does not belong in a file of this program.",
      }))
  },
}

export const fileRules: readonly Rule[] = [sound, schema, references]
