import type { StudioFile } from "../../db/file.ts"

/** A statement that changed the file, and its values. */
export interface Written {
  text: string
  values: readonly unknown[]
}

/** The same file, with everything that is written through it noted down in order. */
export function recording(file: StudioFile): { file: StudioFile; written: Written[] } {
  const written: Written[] = []
  return {
    written,
    file: {
      ...file,
      insert(table, row) {
        const columns = Object.keys(row)
        const text = `INSERT INTO ${table} (${columns.join(", ")}) VALUES (${columns.map(() => "?").join(", ")})`
        written.push({ text, values: Object.values(row) })
        return file.insert(table, row)
      },
      run(query) {
        const { sql, parameters } = query.compile()
        written.push({ text: sql, values: parameters })
        return file.run(query)
      },
      runText(text, values = []) {
        written.push({ text, values: Array.isArray(values) ? values : [values] })
        return file.runText(text, values)
      },
    },
  }
}
