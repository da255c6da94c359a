import { writeFileSync } from "node:fs"
import type { StudioFile, Value } from "../../db/file.ts"
import { APPLICATION_ID } from "../../db/file.ts"
import { SCHEMA_VERSION } from "../../db/migrate.ts"
import { testStudio } from "./studio.ts"
import { workedStudio } from "./worked-studio.ts"

// `node --import tsx tests/support/keep-version.ts`, once, when a step of the schema is released: keeps the worked
// studio as this version writes it, for later ones to be tried on. A fixture that stands is never written again.
const studio = testStudio()
await workedStudio(studio)
writeFileSync(new URL(`fixtures/version-${SCHEMA_VERSION}.sql`, import.meta.url), dumpOf(studio.file), {
  flag: "wx",
})

/** A whole file as SQL that makes it anew: tables with their rows, then indexes and triggers. */
function dumpOf(file: StudioFile): string {
  const schema = file.allText<{ type: string; name: string; sql: string }>(
    "SELECT type, name, sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' ORDER BY rowid",
  )
  const tables = schema.filter((one) => one.type === "table")
  const rows = [...tables.map((table) => table.name), "sqlite_sequence"].flatMap((name) => {
    const clear = name === "sqlite_sequence" ? ["DELETE FROM sqlite_sequence"] : []
    return [
      ...clear,
      ...file
        .allText<Record<string, Value | Buffer>>(`SELECT * FROM ${name}`)
        .map(
          (row) =>
            `INSERT INTO ${name} (${Object.keys(row).join(", ")}) VALUES (${Object.values(row).map(literal).join(", ")})`,
        ),
    ]
  })
  const statements = [
    "PRAGMA foreign_keys = OFF",
    `PRAGMA application_id = ${APPLICATION_ID}`,
    ...tables.map((table) => table.sql),
    ...rows,
    ...schema.filter((one) => one.type !== "table").map((one) => one.sql),
    `PRAGMA user_version = ${SCHEMA_VERSION}`,
  ]
  return `-- The worked studio as version ${SCHEMA_VERSION} of the schema kept it, by the services; never edited.\n${statements.join(";\n")};\n`
}

function literal(value: Value | Buffer): string {
  if (value === null) return "NULL"
  if (Buffer.isBuffer(value)) return `X'${value.toString("hex")}'`
  return typeof value === "string" ? `'${value.replaceAll("'", "''")}'` : String(value)
}
