import type { StudioFile } from "../../db/file.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { lowSupplies } from "./on-shelf.ts"

/**
 * How many supplies are low, as every page says it. Worked out again only after something was written or a day has
 * passed; while a long piece of work writes, what held before it is told.
 */
export function lowCounter(studio: Studio): () => number {
  let known: { file: StudioFile; changes: number; today: string; count: number } | null = null
  return () => {
    const { file } = studio
    if (known?.file === file && file.busy() !== null) return known.count
    const changes = file.firstText<{ n: number }>("SELECT total_changes() AS n")?.n ?? 0
    const today = todayOf(studio)
    if (known?.file !== file || known.changes !== changes || known.today !== today)
      known = { file, changes, today, count: lowSupplies(studio).length }
    return known.count
  }
}
