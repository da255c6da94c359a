import Database from "better-sqlite3"

/** Something is wrong with the file itself. The message is one sentence for the person. */
export class FileProblem extends Error {}

/** The file is no database any more, or a damaged one: it takes a copy to go on. */
export class SpoiledFile extends FileProblem {}

/**
 * Turns what SQLite says of a file into a sentence a person can act on; any other error comes back unchanged.
 *
 * @param error what was thrown
 * @param path the file it was about
 */
export function problemOf(error: unknown, path: string): unknown {
  if (error instanceof FileProblem) return error
  if (error instanceof TypeError && /directory does not exist/.test(error.message)) {
    return new FileProblem(`The folder of ${path} does not exist. Make it, or choose another with --data.`)
  }
  if (!(error instanceof Database.SqliteError)) return error
  const code = error.code
  if (code.startsWith("SQLITE_BUSY") || code.startsWith("SQLITE_LOCKED")) {
    return new FileProblem(`${path} is in use by another program. Close it there and try again.`)
  }
  if (code.startsWith("SQLITE_READONLY")) {
    return new FileProblem(
      `${path} cannot be written to. Give yourself permission to write it, or use another folder with --data.`,
    )
  }
  if (code === "SQLITE_NOTADB") {
    return new SpoiledFile(
      `${path} is not a Lotcup file. Choose another folder with --data, or move that file away.`,
    )
  }
  if (code.startsWith("SQLITE_CORRUPT")) {
    return new SpoiledFile(`${path} is damaged. Put back a copy that was kept before.`)
  }
  if (code.startsWith("SQLITE_CANTOPEN")) {
    return new FileProblem(
      `${path} cannot be opened. Check that the folder is there and that you may write in it.`,
    )
  }
  if (code.startsWith("SQLITE_FULL")) {
    return new FileProblem("The disk is full. Nothing was changed; make room and try again.")
  }
  if (code.startsWith("SQLITE_IOERR")) {
    return new FileProblem(`The disk did not answer while writing ${path}. Nothing was changed; try again.`)
  }
  return error
}
