import { apportion } from "./apportion.ts"

/** What one container gave to a coat. Amount in base units of its supply, both zero or more. */
export interface CoatUse {
  supply: string | number
  amount: number
  costMicro: number
}

/** A use shared out over the cups of its coat, in the cups' order; parts add up to the use. */
export interface CoatShare {
  amounts: number[]
  costsMicro: number[]
}

/**
 * Shares what a coat took over its cups: amounts evenly, to whole base units, costs by what each cup got. What does
 * not divide evenly goes on where the last container of that supply left off, so that six blanks out of two cartons
 * are one a cup, and each is paid by the cup that it became.
 *
 * @param uses the coat's containers, in the order in which they were taken from
 * @param cups how many cups the coat is on, at least one
 * @returns one share for each use
 */
export function coatShares(uses: readonly CoatUse[], cups: number): CoatShare[] {
  const even = Array.from({ length: cups }, () => 1)
  const leftOff = new Map<CoatUse["supply"], number>()
  return uses.map(({ supply, amount, costMicro }) => {
    const from = leftOff.get(supply) ?? 0
    leftOff.set(supply, (from + (amount % cups)) % cups)
    const parts = apportion(amount, even)
    const costs = apportion(costMicro, amount > 0 ? parts : even)
    const turned = (list: readonly number[]) => even.map((_, place) => list[(place - from + cups) % cups]!)
    return { amounts: turned(parts), costsMicro: turned(costs) }
  })
}
