import type { StudioFile } from "../../db/file.ts"
import { Refusal } from "../domain/refusal.ts"

/** What has a name of its own under Set up, as its table is called, and as a person calls it. */
const NAMED = {
  maker: "A maker",
  seller: "A seller",
  supply: "A supply",
  resin_system: "A resin system",
  pack: "A pack",
} as const

export type Named = keyof typeof NAMED

/**
 * Nothing while the name is free; capital letters make no other name.
 *
 * @param exceptId the row that is being changed
 * @throws {Refusal} another one has it
 */
export function nameMustBeFree(file: StudioFile, table: Named, name: string, exceptId = 0): void {
  const other = file.firstText<{ name: string }>(
    `SELECT name FROM ${table} WHERE name = ? COLLATE NOCASE AND id <> ?`,
    [name, exceptId],
  )
  if (other) {
    throw new Refusal(
      `${NAMED[table]} called “${other.name}” is already there: give this one another name.`,
      {
        field: "name",
      },
    )
  }
}

/** @throws {Refusal} 404 while there is no such row; on a form, beside the field it was chosen in */
export function mustBeThere(file: StudioFile, table: Named, id: number, field?: string): void {
  if (file.firstText(`SELECT 1 FROM ${table} WHERE id = ?`, [id])) return
  throw field === undefined
    ? new Refusal(`There is no such ${table.replace("_", " ")}.`, { status: 404 })
    : new Refusal(`That ${table.replace("_", " ")} is not there: choose one from the list.`, { field })
}
