import type { StudioFile } from "../../db/file.ts"

/** A column of a table of the file, as the archive needs to know it. */
export interface Column {
  name: string
  type: "INTEGER" | "TEXT" | "REAL" | "BLOB"
}

/** Every table of a studio file with its columns, by name; the counters of row numbers too. */
export function tablesOf(file: StudioFile): Map<string, Column[]> {
  const names = file.allText<{ name: string }>(
    "SELECT name FROM sqlite_schema WHERE type = 'table' AND (name NOT LIKE 'sqlite_%' OR name = 'sqlite_sequence') ORDER BY name",
  )
  return new Map(
    names.map(({ name }) => [
      name,
      file
        .allText<{ name: string; type: string }>("SELECT name, type FROM pragma_table_info(?)", [name])
        .map((column) => ({ name: column.name, type: typeOf(name, column) })),
    ]),
  )
}

function typeOf(table: string, { name, type }: { name: string; type: string }): Column["type"] {
  // SQLite's own table of counters has no types
  if (table === "sqlite_sequence") return name === "seq" ? "INTEGER" : "TEXT"
  switch (type) {
    case "INTEGER":
    case "TEXT":
    case "REAL":
    case "BLOB":
      return type
    default:
      throw new Error(`Column ${table}.${name} is of no known type: ${type}`)
  }
}
