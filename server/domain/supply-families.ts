import type { Want } from "./allocation.ts"
import type { StepNeed } from "./need-book.ts"

/** Supplies that are chosen together: a resin's A and B and whatever shares either with another resin. */
export interface Families {
  /** the family's number: one of its supplies */
  of(supplyId: number): number
  /** a need's wants by family, pairs kept */
  split(need: StepNeed): readonly FamilyWants[]
  /** a need's wants in the family of a supply */
  wantsIn(need: StepNeed, supplyId: number): readonly Want[]
}

/** What a need wants of one family. */
interface FamilyWants {
  family: number
  wants: readonly Want[]
}

/** Finds the families in some needs. A supply that is in none of them stands alone. */
export function familiesOf(needs: readonly StepNeed[]): Families {
  const parent = new Map<number, number>()
  const rootOf = (supplyId: number): number => {
    let root = supplyId
    for (let above = parent.get(root); above !== undefined; above = parent.get(root)) root = above
    return root
  }
  const join = ({ wants }: StepNeed) => {
    for (const want of wants) {
      if (want.pairWith === undefined) continue
      const [one, other] = [rootOf(want.supplyId), rootOf(wants[want.pairWith]!.supplyId)]
      if (one !== other) parent.set(one, other)
    }
  }
  for (const need of new Set(needs)) join(need)

  const splits = new Map<StepNeed, readonly FamilyWants[]>()
  const split = (need: StepNeed) => {
    let known = splits.get(need)
    if (!known) {
      known = splitUp(need, rootOf)
      splits.set(need, known)
    }
    return known
  }
  return {
    of: rootOf,
    split,
    wantsIn: (need, supplyId) => {
      const root = rootOf(supplyId)
      return split(need).find(({ family }) => family === root)?.wants ?? []
    },
  }
}

function splitUp({ wants }: StepNeed, rootOf: (supplyId: number) => number): FamilyWants[] {
  const families = new Map<number, Want[]>()
  /** where each want stands in its family's list: pairs are named by place */
  const places: number[] = []
  for (const want of wants) {
    const root = rootOf(want.supplyId)
    const family = families.get(root) ?? []
    families.set(root, family)
    places.push(family.length)
    family.push(want.pairWith === undefined ? want : { ...want, pairWith: places[want.pairWith]! })
  }
  return [...families].map(([family, own]) => ({ family, wants: own }))
}
