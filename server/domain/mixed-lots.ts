import { apportion } from "./apportion.ts"

/** One change of what is in a bottle. */
export interface BottleChange {
  bottleId: number
  /** the lot the bottle came with, or was split off as */
  ownLotId: number
  kind: "receive" | "use" | "transfer" | "count" | "waste" | "write-off"
  /** base units, signed */
  amount: number
  /** of what is poured in: the bottle it was poured from, whose own change stands just before */
  sourceId: number | null
  coatId: number | null
}

/** Amounts by lot, in base units. */
export type LotParts = ReadonlyMap<number, number>

/**
 * Shares every change of a bottle out over the lots in it, so that the parts add up to the change. What is poured
 * together counts as mixed evenly: a later take holds each lot in the proportion it stands in the bottle then. What a
 * coat gives back when it is measured goes to the lots it was taken from; what a count finds in an empty bottle, to the
 * lots that were in it last. That bottles mix evenly is common practice, no source.
 *
 * @param changes those that still stand, in the order of the book, of every bottle that anything was poured from
 * @returns the parts of each change, in the same order
 */
export function partsByLot(changes: readonly BottleChange[]): LotParts[] {
  const inBottle = new Map<number, LotParts>()
  const lastInBottle = new Map<number, LotParts>()
  const onCoat = new Map<string, LotParts>()
  const poured = new Map<number, LotParts>()
  return changes.map((change) => {
    const { bottleId, ownLotId, amount, sourceId } = change
    const inside = inBottle.get(bottleId) ?? new Map()
    const coat = `${bottleId} ${change.coatId}`
    const mixed = [inside, lastInBottle.get(bottleId) ?? new Map(), new Map([[ownLotId, 1]])]
    const parts =
      change.kind === "receive"
        ? new Map([[ownLotId, amount]])
        : sourceId !== null
          ? shared(amount, [poured.get(sourceId) ?? new Map(), ...mixed])
          : amount > 0 && change.coatId !== null
            ? shared(amount, [onCoat.get(coat) ?? new Map(), ...mixed])
            : shared(amount, mixed)
    const now = sum(inside, parts)
    inBottle.set(bottleId, now)
    if (hasAny(now)) lastInBottle.set(bottleId, now)
    if (change.kind === "transfer" && amount < 0) poured.set(bottleId, negative(parts))
    if (change.coatId !== null) onCoat.set(coat, sum(onCoat.get(coat) ?? new Map(), negative(parts)))
    return parts
  })
}

/** An amount in the proportions of the first of several mixtures that holds anything. */
function shared(amount: number, mixtures: readonly LotParts[]): LotParts {
  const mixture = mixtures.find(hasAny) ?? new Map<number, number>()
  const lots = [...mixture.keys()]
  // what was undone can leave a lot below nothing for a while: then none of it is taken
  const weights = [...mixture.values()].map((part) => Math.max(0, part))
  return new Map(apportion(amount, weights).map((part, index) => [lots[index]!, part]))
}

function hasAny(parts: LotParts): boolean {
  return [...parts.values()].some((part) => part > 0)
}

function sum(one: LotParts, other: LotParts): LotParts {
  const both = new Map(one)
  for (const [lotId, part] of other) both.set(lotId, (both.get(lotId) ?? 0) + part)
  return both
}

function negative(parts: LotParts): LotParts {
  return new Map([...parts].map(([lotId, part]) => [lotId, -part]))
}
