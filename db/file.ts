import { AsyncLocalStorage } from "node:async_hooks"
import Database from "better-sqlite3"
import type { Insertable } from "kysely"
import { FileProblem, problemOf } from "./problems.ts"
import type { Tables } from "./tables.ts"
import type { Query } from "./words.ts"

export type Value = string | number | bigint | null

/** Values for `?` in order, or by name for `:name`. */
export type Values = readonly Value[] | Readonly<Record<string, Value>>

/**
 * An open studio file: one SQLite database, one connection, one writer. Queries run at once, inside whatever
 * transaction is open; statements are prepared once per text.
 */
export interface StudioFile {
  readonly path: string
  /** All rows of a query. */
  all<Row>(query: Query<Row>): Row[]
  /** The first row of a query, or undefined. */
  first<Row>(query: Query<Row>): Row | undefined
  /** Carries out a built insert, update or delete; says how many rows changed. */
  run(query: Query<unknown>): number
  /** Adds one row and returns its row id. Prepared once for each set of columns, so many rows are quick. */
  insert<T extends keyof Tables>(table: T, row: Insertable<Tables[T]>): number
  /** All rows of a query given as text: for the few that are run so often that building them shows. */
  allText<Row>(text: string, values?: Values): Row[]
  firstText<Row>(text: string, values?: Values): Row | undefined
  runText(text: string, values?: Values): number
  /** Runs the statements of a script, for migrations. */
  script(text: string): void
  /** Runs `work` in one BEGIN IMMEDIATE transaction: all of it or, when it throws, nothing. */
  transaction<T>(work: () => T): T
  /**
   * The same for work that takes its time and lets others be answered in between; one at a time. Until it ends,
   * readers see what it wrote so far, and a transaction that is not part of it is refused: it would be kept or lost
   * together with this one.
   */
  longTransaction<T>(work: () => Promise<T>): Promise<T>
  /** While a long transaction runs, what is done when it ends; null otherwise. */
  busy(): Promise<void> | null
  /** Copies the whole file as it stands, while it goes on being used (SQLite's online backup). */
  copyTo(path: string): Promise<void>
  close(): void
  /** For the fault test: called after each statement inside a transaction; may throw. */
  afterStatement: (() => void) | null
}

/** 'Lotc': tells a studio file from any other SQLite database. */
export const APPLICATION_ID = 0x4c6f7463

/**
 * Opens a file with the pragmas every connection has; does not migrate.
 *
 * @param path a file, or ":memory:"
 * @throws {FileProblem} one sentence: locked, read-only, another program's, not a database, no such folder
 */
export function connect(path: string): StudioFile {
  let db: Database.Database | null = null
  try {
    db = new Database(path, { timeout: 5_000 })
    refuseAnotherPrograms(db, path)
    db.pragma("foreign_keys = ON")
    db.pragma("recursive_triggers = ON")
    db.pragma("trusted_schema = OFF")
    if (db.pragma("journal_mode = WAL", { simple: true }) === "delete") {
      throw new FileProblem(
        "This file's folder cannot hold the journal Lotcup needs. Move the file to another disk.",
      )
    }
    db.pragma("synchronous = FULL")
    return wrap(path, db)
  } catch (error) {
    db?.close()
    throw problemOf(error, path)
  }
}

/** Before anything is set: the way a file keeps its journal is written into it, and this one would be another's. */
function refuseAnotherPrograms(db: Database.Database, path: string): void {
  const id = db.pragma("application_id", { simple: true })
  if (id === APPLICATION_ID) return
  const isNew =
    id === 0 &&
    db.pragma("user_version", { simple: true }) === 0 &&
    db.prepare("SELECT 1 FROM sqlite_schema").get() === undefined
  if (isNew) return
  throw new FileProblem(`${path} is another program's database. Choose another folder with --data.`)
}

/**
 * Opens a file that is there to read it only, also beside the program that writes it. Nothing is migrated.
 *
 * @throws {FileProblem} one sentence: no such file, not a database
 */
export function connectToRead(path: string): StudioFile {
  try {
    const db = new Database(path, { timeout: 5_000, readonly: true, fileMustExist: true })
    db.pragma("trusted_schema = OFF")
    return wrap(path, db)
  } catch (error) {
    throw problemOf(error, path)
  }
}

const BUSY = "A file is being brought in right now. Try again in a moment."

function wrap(path: string, db: Database.Database): StudioFile {
  const statements = new Map<string, Prepared>()
  const inserts = new Map<string, { columns: readonly string[]; statement: Database.Statement }[]>()
  const inLong = new AsyncLocalStorage<true>()
  let running: Promise<void> | null = null

  const prepared = (text: string): Prepared => {
    let found = statements.get(text)
    if (!found) {
      found = prepare(db, text)
      statements.set(text, found)
    }
    return found
  }
  const all = <Row>(text: string, values: readonly unknown[]): Row[] => {
    const { statement, named } = prepared(text)
    return statement.all(...values).map(named) as Row[]
  }
  const first = <Row>(text: string, values: readonly unknown[]): Row | undefined => {
    const { statement, named } = prepared(text)
    const row = statement.get(...values)
    return row && (named(row) as Row)
  }
  const done = () => {
    if (file.afterStatement && db.inTransaction) file.afterStatement()
  }
  const change = (text: string, values: readonly unknown[]) => {
    const result = prepared(text).statement.run(...values)
    done()
    return result
  }

  const file: StudioFile = {
    path,
    afterStatement: null,
    all<Row>(query: Query<Row>) {
      const { sql, parameters } = query.compile()
      return all<Row>(sql, parameters)
    },
    first<Row>(query: Query<Row>) {
      const { sql, parameters } = query.compile()
      return first<Row>(sql, parameters)
    },
    run(query) {
      const { sql, parameters } = query.compile()
      return change(sql, parameters).changes
    },
    insert(table, row) {
      const columns = Object.keys(row)
      const known = inserts.get(table) ?? []
      let into = known.find((one) => isSame(one.columns, columns))
      if (!into) {
        const text = `INSERT INTO ${table} (${columns.join(", ")}) VALUES (${columns.map(() => "?").join(", ")})`
        into = { columns, statement: db.prepare(text) }
        inserts.set(table, [...known, into])
      }
      const result = into.statement.run(...Object.values(row))
      done()
      return Number(result.lastInsertRowid)
    },
    allText<Row>(text: string, values: Values = []) {
      return all<Row>(text, bound(values))
    },
    firstText<Row>(text: string, values: Values = []) {
      return first<Row>(text, bound(values))
    },
    runText(text, values = []) {
      return change(text, bound(values)).changes
    },
    script(text) {
      db.exec(text)
      // it may have changed which columns a table has
      statements.clear()
      inserts.clear()
    },
    transaction<T>(work: () => T): T {
      if (running !== null && !inLong.getStore()) throw new FileProblem(BUSY)
      try {
        return db.transaction(work).immediate()
      } catch (error) {
        throw problemOf(error, path)
      }
    },
    async longTransaction<T>(work: () => Promise<T>): Promise<T> {
      if (running !== null) throw new FileProblem(BUSY)
      let ended = () => {}
      running = new Promise((resolve) => {
        ended = resolve
      })
      try {
        db.prepare("BEGIN IMMEDIATE").run()
        const result = await inLong.run(true, work)
        db.prepare("COMMIT").run()
        return result
      } catch (error) {
        if (db.inTransaction) db.prepare("ROLLBACK").run()
        throw problemOf(error, path)
      } finally {
        running = null
        ended()
      }
    },
    busy: () => running,
    async copyTo(toPath) {
      await running
      try {
        await db.backup(toPath)
        // one file alone: a copy that needs its journal beside it is half a copy once it is taken away
        const copy = new Database(toPath)
        copy.pragma("journal_mode = DELETE")
        copy.close()
      } catch (error) {
        throw problemOf(error, toPath)
      }
    },
    close() {
      statements.clear()
      inserts.clear()
      db.close()
    },
  }
  return file
}

/** A statement as it is kept, and what gives the columns it returns their names. */
interface Prepared {
  statement: Database.Statement<unknown[], readonly unknown[]>
  named: (values: readonly unknown[]) => unknown
}

function prepare(db: Database.Database, text: string): Prepared {
  const statement = db.prepare<unknown[], readonly unknown[]>(text)
  if (!statement.reader) return { statement, named: (values) => values }
  const columns = statement.columns().map((column) => column.name)
  // rows come as lists and are given their names here: half the time of having the library make objects
  return { statement: statement.raw(), named: naming(columns) }
}

/** Makes rows of lists. Written as code with the names in it, it takes an eighth of the time of a loop over them. */
function naming(columns: readonly string[]): (values: readonly unknown[]) => unknown {
  const fields = columns.map((column, place) => `${JSON.stringify(column)}: values[${place}]`)
  return new Function("values", `return { ${fields.join(", ")} }`) as (values: readonly unknown[]) => unknown
}

function isSame(one: readonly string[], other: readonly string[]): boolean {
  if (one.length !== other.length) return false
  for (let place = 0; place < one.length; place++) if (one[place] !== other[place]) return false
  return true
}

function bound(values: Values): readonly unknown[] {
  return Array.isArray(values) ? values : [values]
}
