import type { StudioFile } from "../../db/file.ts"
import type { Part } from "./things.ts"

/** What a file's tables are like does not change while it is open, and is asked often. */
const known = new WeakMap<StudioFile, Map<string, unknown>>()

function once<Answer>(file: StudioFile, question: string, ask: () => Answer): Answer {
  const answers = known.get(file) ?? new Map<string, unknown>()
  known.set(file, answers)
  if (!answers.has(question)) answers.set(question, ask())
  return answers.get(question) as Answer
}

/** The columns of a table, in its order. */
export function columnsOf(file: StudioFile, table: string): readonly string[] {
  return once(file, `columns ${table}`, () =>
    file
      .allText<{ name: string }>("SELECT name FROM pragma_table_info(?) ORDER BY cid", [table])
      .map(({ name }) => name),
  )
}

/** The columns that tell a part's rows apart. */
export function keyOf(file: StudioFile, part: Part): readonly string[] {
  if (part.key !== undefined) return part.key
  return once(file, `key ${part.table}`, () =>
    file
      .allText<{ name: string }>("SELECT name FROM pragma_table_info(?) WHERE pk > 0 ORDER BY pk", [
        part.table,
      ])
      .map(({ name }) => name),
  )
}

/** The columns of other tables that point at rows of one. */
export function pointersTo(
  file: StudioFile,
  table: string,
): readonly { table: string; column: string; to: string }[] {
  return once(file, `pointers ${table}`, () =>
    file.allText(
      `SELECT t.name AS "table", f."from" AS "column", f."to" FROM sqlite_schema t JOIN pragma_foreign_key_list(t.name) f
       WHERE t.type = 'table' AND f."table" = ?`,
      [table],
    ),
  )
}
