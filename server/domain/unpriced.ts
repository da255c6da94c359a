/** A sum of money as far as prices are known. Money in micro. */
export interface KnownCost {
  /** null: no price is known of anything in it, so there is no sum */
  micro: number | null
  /** a part of it has no price, so that it is at least the sum */
  isPart: boolean
  /** which supplies it leaves out, as a sentence; "" where it has all of them */
  leavesOut: string
}

/**
 * A sum, with what it leaves out because nobody said what that cost. An unknown price counts as nothing in the book,
 * and is never told as zero.
 *
 * @param micro what is known to have been paid
 * @param unpriced names of the supplies in it of which no price is known
 */
export function knownCost(micro: number, unpriced: readonly string[]): KnownCost {
  const names = [...new Set(unpriced)]
  if (names.length === 0) return { micro, isPart: false, leavesOut: "" }
  const said = sayUnpriced(names)
  if (micro === 0) return { micro: null, isPart: false, leavesOut: `${said}.` }
  return {
    micro,
    isPart: true,
    leavesOut: `${said}, so the sum leaves ${names.length === 1 ? "that" : "them"} out.`,
  }
}

/** "No price is known for Lids, Straws and Clear A", without a full stop; each name once. */
export function sayUnpriced(names: readonly string[]): string {
  return `No price is known for ${listed([...new Set(names)])}`
}

/** "Lids, Straws and Clear A". */
function listed(names: readonly string[]): string {
  const last = names.at(-1) ?? ""
  return names.length < 2 ? last : `${names.slice(0, -1).join(", ")} and ${last}`
}
