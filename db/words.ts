import {
  type Compilable,
  DummyDriver,
  Kysely,
  SqliteAdapter,
  SqliteIntrospector,
  SqliteQueryCompiler,
} from "kysely"
import type { Tables } from "./tables.ts"

/**
 * Builds and types queries; never runs one (its driver is a dummy). Hand what it builds to `StudioFile`.
 *
 * @example file.all(sql.selectFrom("supply").select(["id", "name"]).where("kind", "=", "paint"))
 */
export const sql = new Kysely<Tables>({
  dialect: {
    createAdapter: () => new SqliteAdapter(),
    createDriver: () => new DummyDriver(),
    createIntrospector: (db) => new SqliteIntrospector(db),
    createQueryCompiler: () => new SqliteQueryCompiler(),
  },
})

export type Query<Row> = Compilable<Row>
