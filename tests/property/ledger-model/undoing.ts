import type { Book, Deed, Move } from "./book.ts"

/**
 * Why a deed cannot be undone now, or null when it can. Deeds that were undone themselves stand in nobody's way.
 */
export function whyNotUndone(book: Book, deedId: number): string | null {
  const deed = book.deeds.find((one) => one.id === deedId)
  if (!deed) return "there is no such action"
  if (deed.undoes !== null) return "it is an undo"
  if (deed.undone) return "it was undone before"

  const later = book.standing().filter((one) => one.id > deedId && one.undoes === null)
  const cups = cupsOf(deed)
  if (later.some((one) => [...cupsOf(one)].some((cup) => cups.has(cup)))) return "its cups went on"
  for (const move of deed.moves.filter((one) => one.amount > 0)) {
    const touched = (one: Deed) =>
      one.moves.some((other) => other.code === move.code) ||
      one.marks.some((mark) => "code" in mark && mark.code === move.code && mark.kind !== "unbenched")
    if (isFilling(book, move) && later.some(touched)) return `${move.code} was used, moved or marked since`
    const pouredOn = (one: Deed) => one.moves.some((other) => other.from === move.code)
    if (move.from !== undefined && later.some(pouredOn)) return `${move.code} was poured on`
  }
  const left = new Map<string, number>()
  for (const { code, amount } of deed.moves.toReversed()) {
    const rest = (left.get(code) ?? book.bottle(code).amount) - amount
    if (rest < 0) return `${code} holds too little to take it back`
    left.set(code, rest)
  }
  return null
}

/**
 * Takes a deed back, last move first. What was taken out goes back with its cost; of what was put in, the cost
 * goes that is still there of it, and all of it with the last drop; and a bottle that was poured from gets back
 * just what the other gave.
 */
export function takeBack(book: Book, deed: Deed): void {
  const givenBack = new Map<string, number>()
  for (const move of deed.moves.toReversed()) {
    const bottle = book.bottle(move.code)
    if (move.amount < 0) {
      bottle.costMicro += givenBack.get(move.code) ?? -move.costMicro
    } else {
      const everything = bottle.amount === move.amount
      const cost = everything ? bottle.costMicro : Math.min(move.costMicro, bottle.costMicro)
      bottle.costMicro -= cost
      if (move.from !== undefined) givenBack.set(move.from, cost)
    }
    bottle.amount -= move.amount
  }
  deed.undone = true
}

/** Bottles that a deed emptied while they were on the bench leave it, and so the deed says. */
export function leaveBenchIfEmpty(book: Book, deed: Deed, codes: Iterable<string>): void {
  for (const code of new Set(codes)) {
    const bottle = book.bottle(code)
    if (bottle.amount === 0 && book.onBench(bottle.supplyId) === code)
      deed.marks.push({ kind: "unbenched", code })
  }
}

function cupsOf(deed: Deed): Set<number> {
  return new Set([
    ...deed.cups.map((one) => one.cupId),
    ...deed.wentOn.map((one) => one.cupId),
    ...deed.coats.flatMap((coat) => coat.cupIds),
  ])
}

function isFilling(book: Book, move: Move): boolean {
  const first = book.deeds.find((deed) => deed.moves.some((other) => other.code === move.code))
  return first?.moves.includes(move) === true
}
