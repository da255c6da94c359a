/** One of several containers that may have given to a coat, in the supply's base unit. */
export interface Giver {
  /** what it gave by the book, zero or more */
  booked: number
  /** what a person says it gave; null: not said */
  said: number | null
}

/**
 * What each of several containers gave of an amount, where a person said it of some: the rest is of the one that is
 * left, or of the one left that gave something by the book.
 *
 * @param total what all of them gave together
 * @returns amounts in the order of the givers; "too much": more is said than was taken; "left open": who gave the rest
 *   is not told
 */
export function cameFrom(total: number, givers: readonly Giver[]): number[] | "too much" | "left open" {
  const rest = givers.reduce((left, { said }) => left - (said ?? 0), total)
  if (rest < 0) return "too much"
  const unsaid = givers.filter(({ said }) => said === null)
  const booked = unsaid.filter((one) => one.booked > 0)
  const last = unsaid.length === 1 ? unsaid[0] : booked.length === 1 ? booked[0] : undefined
  if (rest > 0 && last === undefined) return "left open"
  return givers.map((one) => one.said ?? (one === last ? rest : 0))
}
