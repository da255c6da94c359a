import type { Act } from "../ledger/act.ts"
import type { Thing } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import type { Cells, Column, Manner } from "./cells.ts"

/** What a row (or several that belong together) would do. */
export interface Seen {
  state: "new" | "changed" | "same"
  /** for what is new: what it is called in the list of what will be added */
  called: string
  /** for what is changed: what, in words */
  says: readonly string[]
  /** does it; what it made is given to `made` */
  write: (now: Act, made: (thing: Thing, id: number) => void) => void
}

/** A file being read against the book as it stands. What rows before it brought is known to the later ones. */
export interface Reading {
  /**
   * @returns null where something is wrong; what, stands in the cells' problems
   */
  look: (rows: readonly Cells[]) => Seen | null
}

/** One sort of thing that can be brought in. */
export interface Kind {
  name: string
  title: string
  about: string
  /** what is counted: "supply", "supplies" */
  one: string
  many: string
  columns: readonly Column[]
  /** rows that follow one another and say the same here are one thing */
  together?: string
  open: (studio: Studio, manner: Manner) => Reading
}
