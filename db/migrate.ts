import { existsSync, readdirSync, readFileSync } from "node:fs"
import { APPLICATION_ID, connect, type StudioFile } from "./file.ts"
import { FileProblem, problemOf } from "./problems.ts"

const folder = new URL("./migrations/", import.meta.url)
const triggers = readFileSync(new URL("./triggers.sql", import.meta.url), "utf8")

/** The version of the schema this program writes: one for each file in `migrations/`. */
export const SCHEMA_VERSION = steps().length

function steps(): string[] {
  return readdirSync(folder)
    .filter((name) => /^\d{4}\.sql$/.test(name))
    .sort()
}

/**
 * Opens a studio file and brings it to this program's schema. Before an older file is changed, a copy of it is
 * kept beside it, named after its version.
 *
 * @param path a file, made if it is not there, or ":memory:"
 * @throws {FileProblem} newer than the program, another program's database, locked, read-only, no database
 */
export function openStudioFile(path: string): StudioFile {
  const file = connect(path)
  try {
    migrate(file)
    return file
  } catch (error) {
    file.close()
    throw problemOf(error, path)
  }
}

function migrate(file: StudioFile): void {
  const version = pragma(file, "user_version")
  if (version > SCHEMA_VERSION) {
    throw new FileProblem(
      `${file.path} was written by a newer Lotcup. Start that one, or choose another folder with --data.`,
    )
  }
  if (version === SCHEMA_VERSION) {
    // Even an up-to-date file must be writable, or the first saved form would be the one to find out.
    file.transaction(() => file.runText(`PRAGMA user_version = ${version}`))
    return
  }
  if (version > 0) keepCopy(file, version)

  file.runText("PRAGMA foreign_keys = OFF")
  file.transaction(() => {
    // Triggers first: a step may make a table anew that one of them speaks of.
    dropTriggers(file)
    for (const name of steps().slice(version)) file.script(readFileSync(new URL(name, folder), "utf8"))
    file.script(triggers)
    const broken = file.allText("PRAGMA foreign_key_check")
    if (broken.length > 0)
      throw new FileProblem(`${file.path} points at rows that are not there. Put back a copy.`)
    file.runText(`PRAGMA application_id = ${APPLICATION_ID}`)
    file.runText(`PRAGMA user_version = ${SCHEMA_VERSION}`)
  })
  file.runText("PRAGMA foreign_keys = ON")
}

/**
 * Tables and indexes as they were at a version of the schema, by kind and name: what a file of that version may hold.
 *
 * @param version 1 to `SCHEMA_VERSION`
 */
export function schemaAt(version: number): Map<string, string> {
  const file = connect(":memory:")
  try {
    file.runText("PRAGMA foreign_keys = OFF")
    for (const name of steps().slice(0, version)) file.script(readFileSync(new URL(name, folder), "utf8"))
    return schemaOf(file)
  } finally {
    file.close()
  }
}

/** What a file holds, by kind and name: "table cup" to the text that makes it, white space evened out. */
export function schemaOf(file: StudioFile): Map<string, string> {
  const rows = file.allText<{ type: string; name: string; sql: string }>(
    "SELECT type, name, sql FROM sqlite_schema WHERE name NOT LIKE 'sqlite_%'",
  )
  return new Map(rows.map(({ type, name, sql }) => [`${type} ${name}`, sql.replace(/\s+/g, " ")]))
}

/** The names of our own triggers. */
export const TRIGGER_NAMES: ReadonlySet<string> = new Set(
  [...triggers.matchAll(/^CREATE TRIGGER (\w+)/gm)].map((found) => found[1] as string),
)

/**
 * Writes rows as they are, in one transaction, without the ledger's triggers: for a file that is made anew from
 * another's tables. `renewTriggers` must follow.
 */
export function withoutTriggers(file: StudioFile, write: () => void): void {
  file.runText("PRAGMA foreign_keys = OFF")
  try {
    file.transaction(() => {
      dropTriggers(file)
      write()
    })
  } finally {
    file.runText("PRAGMA foreign_keys = ON")
  }
}

/** Makes all triggers anew, so that those of a file from elsewhere are this program's own. */
export function renewTriggers(file: StudioFile): void {
  file.transaction(() => {
    dropTriggers(file)
    file.script(triggers)
  })
}

function dropTriggers(file: StudioFile): void {
  for (const { name } of file.allText<{ name: string }>(
    "SELECT name FROM sqlite_schema WHERE type = 'trigger'",
  )) {
    file.runText(`DROP TRIGGER "${name}"`)
  }
}

function keepCopy(file: StudioFile, version: number): void {
  const copy = `${file.path}.before-version-${version + 1}`
  if (!existsSync(copy)) file.runText("VACUUM INTO ?", [copy])
}

function pragma(file: StudioFile, name: string): number {
  return Object.values(file.firstText<Record<string, number>>(`PRAGMA ${name}`) ?? {})[0] ?? 0
}
