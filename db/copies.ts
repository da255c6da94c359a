import { randomUUID } from "node:crypto"
import { closeSync, existsSync, fsyncSync, openSync, readSync, renameSync, rmSync, statSync } from "node:fs"
import { APPLICATION_ID, connectToRead, type StudioFile } from "./file.ts"
import { SCHEMA_VERSION, schemaAt, schemaOf, TRIGGER_NAMES } from "./migrate.ts"
import { FileProblem, problemOf } from "./problems.ts"

/** Larger than any studio's file: one that is larger is something else. */
const LARGEST_BYTES = 4 * 1024 ** 3
/** Where a file comes from that can be put back, for one that cannot. */
export const WHICH_FILE =
  "Choose a copy that Lotcup made: its name begins with “lotcup-” and ends with “.db”, and it comes from “Take away” in the list of copies. Or choose “lotcup-tables.zip”, which comes from “Archive of all tables”."

const SQLITE_HEAD = "SQLite format 3\0"

/**
 * Copies a studio file as it stands while it is in use, opens the copy and looks it over, and only then gives it
 * its name: a name that is there is a copy that can be put back.
 *
 * ```ts
 * await writeCopy(studio.file, "data/copies/2026-12-01 0300.db")
 * ```
 *
 * @throws {FileProblem} no room, no such folder, or a copy that is not sound; nothing of it stays then
 */
export async function writeCopy(file: StudioFile, path: string): Promise<void> {
  const half = `${path}.${randomUUID()}.half`
  try {
    await file.copyTo(half)
    inspectCopy(half)
    flush(half)
    renameSync(half, path)
  } finally {
    for (const more of ["", "-wal", "-shm", "-journal"]) rmSync(half + more, { force: true })
  }
}

/**
 * Looks a file over before anything in it is believed: it must be a whole database of this program, not newer than
 * it, with the tables, indexes and triggers that this program makes and nothing else; a trigger or view that
 * somebody put in would run in our name.
 *
 * @throws {FileProblem} one sentence: what is wrong with it
 */
export function inspectCopy(path: string): void {
  if (!existsSync(path)) throw new FileProblem(`${path} is not there.`)
  if (statSync(path).size > LARGEST_BYTES)
    throw new FileProblem("That file is larger than any studio's. Choose another.")
  if (!beginsLikeSqlite(path)) throw new FileProblem(`That file is no copy of a studio. ${WHICH_FILE}`)
  const file = connectToRead(path)
  try {
    if (number(file, "application_id") !== APPLICATION_ID) {
      throw new FileProblem(`That file is another program's database. ${WHICH_FILE}`)
    }
    const version = number(file, "user_version")
    if (version > SCHEMA_VERSION)
      throw new FileProblem("That copy was made by a newer Lotcup. Put it back with that one.")
    if (version < 1) throw new FileProblem("That copy has no version. Choose one that Lotcup made.")
    refuseDamage(file)
    refuseForeignParts(file, version)
  } catch (error) {
    throw problemOf(error, path)
  } finally {
    file.close()
  }
}

function refuseDamage(file: StudioFile): void {
  const [first] = file.allText<{ integrity_check: string }>("PRAGMA integrity_check(1)")
  if (first?.integrity_check !== "ok") throw new FileProblem("That copy is damaged. Choose another.")
  if (file.allText("PRAGMA foreign_key_check").length > 0) {
    throw new FileProblem("That copy points at things that are not in it. Choose another.")
  }
}

function refuseForeignParts(file: StudioFile, version: number): void {
  const ours = schemaAt(version)
  const theirs = schemaOf(file)
  const foreign = [...theirs].find(([name, text]) =>
    name.startsWith("trigger ") ? !TRIGGER_NAMES.has(name.slice("trigger ".length)) : ours.get(name) !== text,
  )
  if (foreign)
    throw new FileProblem(
      `That copy holds something that Lotcup does not make (${foreign[0]}). It is not put back.`,
    )
  const missing = [...ours.keys()].find((name) => !theirs.has(name))
  if (missing) throw new FileProblem(`That copy lacks a part (${missing}). Choose another.`)
}

function beginsLikeSqlite(path: string): boolean {
  const handle = openSync(path, "r")
  try {
    const head = Buffer.alloc(SQLITE_HEAD.length)
    readSync(handle, head, 0, head.length, 0)
    return head.toString("latin1") === SQLITE_HEAD
  } finally {
    closeSync(handle)
  }
}

function flush(path: string): void {
  const handle = openSync(path, "r+")
  fsyncSync(handle)
  closeSync(handle)
}

function number(file: StudioFile, pragma: string): number {
  return Object.values(file.firstText<Record<string, number>>(`PRAGMA ${pragma}`) ?? {})[0] ?? 0
}
