import fc from "fast-check"
import { expect, test } from "vitest"
import { allocate, openPool, type Shelved, type Want } from "../../server/domain/allocation.ts"
import { plusDays } from "../../server/domain/dates.ts"

const start = "2026-03-01"
const day = (n: number) => plusDays(start, n)
const days = fc.integer({ min: 0, max: 40 }).map(day)
const today = day(10)

const bottle = fc.record({
  supplyId: fc.integer({ min: 1, max: 3 }),
  amountLeft: fc.integer({ min: 0, max: 60 }),
  openedOn: fc.option(fc.constant(start)),
  useBy: fc.option(days),
  held: fc.boolean(),
  onBench: fc.boolean(),
  kitUnit: fc.option(fc.integer({ min: 1, max: 4 })),
  openLife: fc.option(
    fc.record({ unit: fc.constant("days" as const), value: fc.integer({ min: 1, max: 20 }) }),
  ),
})
const shelves: fc.Arbitrary<Shelved[]> = fc
  .array(bottle, { maxLength: 14 })
  .map((bottles) => bottles.map((b, i) => ({ containerId: i + 1, ...b })))

const wantLists: fc.Arbitrary<Want[]> = fc
  .array(
    fc.record({
      supplyId: fc.integer({ min: 1, max: 3 }),
      amount: fc.integer({ min: 0, max: 90 }),
      wholeCoat: fc.integer({ min: 0, max: 30 }),
      pair: fc.option(fc.nat()),
    }),
    { maxLength: 8 },
  )
  .map((wants) =>
    wants.map(({ pair, ...want }, i) => (pair === null || i === 0 ? want : { ...want, pairWith: pair % i })),
  )
const choices = fc.record({
  prefer: fc.uniqueArray(fc.integer({ min: 1, max: 14 }), { maxLength: 4 }),
  insist: fc.uniqueArray(fc.integer({ min: 1, max: 14 }), { maxLength: 4 }).map((ids) => new Set(ids)),
})

const sum = (amounts: readonly { amount: number }[]) =>
  amounts.reduce((total, { amount }) => total + amount, 0)

test("picks and what is missing add up to what was wanted, and no container gives more than it holds", () => {
  fc.assert(
    fc.property(shelves, wantLists, choices, (shelf, wants, choice) => {
      const result = allocate(wants, shelf, today, choice)
      const missing = result.kind === "short" ? result.missing : []
      for (const supplyId of [1, 2, 3]) {
        const picked = result.picks.filter((pick) => wants[pick.want]!.supplyId === supplyId)
        const lacking = missing.filter((lack) => lack.supplyId === supplyId)
        expect(sum(picked) + sum(lacking)).toBe(sum(wants.filter((want) => want.supplyId === supplyId)))
      }
      for (const { containerId, amountLeft, supplyId } of shelf) {
        const picked = result.picks.filter((pick) => pick.containerId === containerId)
        expect(sum(picked)).toBeLessThanOrEqual(amountLeft)
        for (const pick of picked) expect(wants[pick.want]!.supplyId).toBe(supplyId)
      }
      for (const { amount } of [...result.picks, ...missing]) expect(amount).toBeGreaterThan(0)
    }),
  )
})

test("nothing is missing while a good container still holds some of it", () => {
  fc.assert(
    fc.property(shelves, wantLists, (shelf, wants) => {
      const result = allocate(wants, shelf, today)
      if (result.kind === "enough") return
      for (const { supplyId } of result.missing) {
        const good = shelf.filter(
          (b) => b.supplyId === supplyId && !b.held && (b.useBy === null || b.useBy >= today),
        )
        const taken = result.picks.filter((pick) => wants[pick.want]!.supplyId === supplyId)
        expect(sum(taken)).toBe(good.reduce((total, b) => total + b.amountLeft, 0))
      }
    }),
  )
})

test("a held one is never picked; one past its day only when insisted on, and marked", () => {
  fc.assert(
    fc.property(shelves, wantLists, choices, (shelf, wants, choice) => {
      for (const pick of allocate(wants, shelf, today, choice).picks) {
        const from = shelf[pick.containerId - 1]!
        expect(from.held).toBe(false)
        const past = from.useBy !== null && from.useBy < today
        expect(pick.pastItsDay).toBe(past)
        if (past) expect(choice.insist.has(pick.containerId)).toBe(true)
      }
    }),
  )
})

test("one want is served in exactly the order the rules give, found by sorting all good containers", () => {
  const one = fc.record({
    supplyId: fc.constant(1),
    amount: fc.integer({ min: 0, max: 200 }),
    wholeCoat: fc.integer({ min: 0, max: 30 }),
  })
  fc.assert(
    fc.property(shelves, one, choices, (shelf, want, choice) => {
      const past = (b: Shelved) => b.useBy !== null && b.useBy < today
      const chosen = (b: Shelved) => {
        const nth = choice.prefer.indexOf(b.containerId)
        if (nth >= 0) return nth
        return past(b) ? 100 + [...choice.insist].indexOf(b.containerId) : 1000
      }
      const key = (b: Shelved) => [
        chosen(b),
        b.onBench ? 0 : 1,
        b.amountLeft >= want.wholeCoat ? 0 : 1,
        b.openedOn === null ? 1 : 0,
        b.useBy === null ? Number.POSITIVE_INFINITY : Date.parse(b.useBy),
        b.containerId,
      ]
      const before = (a: Shelved, b: Shelved) => {
        const [x, y] = [key(a), key(b)]
        const at = x.findIndex((value, i) => value !== y[i])
        return x[at]! < y[at]! ? -1 : 1
      }
      const good = shelf
        .filter((b) => b.supplyId === 1 && !b.held && b.amountLeft > 0)
        .filter((b) => !past(b) || choice.insist.has(b.containerId))
        .sort(before)
      let missing = want.amount
      const expected = good.flatMap((b) => {
        const amount = Math.min(missing, b.amountLeft)
        missing -= amount
        return amount > 0 ? [[b.containerId, amount]] : []
      })
      const { picks } = allocate([want], shelf, today, choice)
      expect(picks.map((pick) => [pick.containerId, pick.amount])).toEqual(expected)
    }),
    { numRuns: 500 },
  )
})

test("a paired want is served by its pair's kits first among containers that are else alike, and only there", () => {
  const pair = fc.tuple(fc.integer({ min: 1, max: 120 }), fc.integer({ min: 1, max: 120 }))
  fc.assert(
    fc.property(shelves, pair, fc.integer({ min: 0, max: 30 }), (shelf, [a, b], wholeCoat) => {
      const wants = [
        { supplyId: 1, amount: a, wholeCoat },
        { supplyId: 2, amount: b, wholeCoat, pairWith: 0 },
      ]
      const { picks } = allocate(wants, shelf, today)
      const of = (containerId: number) => shelf[containerId - 1]!
      const kits = picks.filter((pick) => pick.want === 0).map((pick) => of(pick.containerId).kitUnit)
      const key = (bottle: Shelved) => [
        bottle.onBench ? 0 : 1,
        bottle.amountLeft >= wholeCoat ? 0 : 1,
        bottle.openedOn === null ? 1 : 0,
        bottle.kitUnit !== null && kits.includes(bottle.kitUnit) ? 0 : 1,
        bottle.useBy === null ? Number.POSITIVE_INFINITY : Date.parse(bottle.useBy),
        bottle.containerId,
      ]
      const keys = picks.filter((pick) => pick.want === 1).map((pick) => key(of(pick.containerId)))
      for (const [i, next] of keys.entries()) {
        const last = keys[i - 1]
        const at = last === undefined ? -1 : next.findIndex((value, n) => value !== last[n])
        if (last !== undefined) expect(next[at]!).toBeGreaterThan(last[at]!)
      }
      // and none that was passed over would have come before the last one picked
      const used = new Set(picks.map((pick) => pick.containerId))
      const left = shelf.filter(
        (b) =>
          b.supplyId === 2 &&
          !b.held &&
          b.amountLeft > 0 &&
          !used.has(b.containerId) &&
          (b.useBy ?? "~") >= today,
      )
      const lastPicked = keys.at(-1)
      for (const passedOver of lastPicked ? left : []) {
        const other = key(passedOver)
        const at = other.findIndex((value, n) => value !== lastPicked![n])
        expect(other[at]!).toBeGreaterThan(lastPicked![at]!)
      }
    }),
    { numRuns: 500 },
  )
})

test("the order the containers are listed in makes no difference", () => {
  fc.assert(
    fc.property(shelves, wantLists, choices, (shelf, wants, choice) => {
      expect(allocate(wants, shelf.toReversed(), today, choice)).toEqual(
        allocate(wants, shelf, today, choice),
      )
    }),
  )
})

/** Takes on rising days from one supply's pool: what was missing in all. */
function missingInAll(shelf: readonly Shelved[], takes: readonly { on: number; amount: number }[]): number {
  const pool = openPool(shelf)
  let missing = 0
  for (const { on, amount } of takes.toSorted((a, b) => a.on - b.on)) {
    missing += sum(pool.take({ supplyId: 1, amount, wholeCoat: 0 }, day(on)).missing)
  }
  return missing
}

test("a later use-by never makes a supply's shortfall worse, over any run of days", () => {
  const sealed = shelves.map((shelf) =>
    shelf.map((b) => ({ ...b, supplyId: 1, openedOn: null, onBench: false, openLife: null })),
  )
  const takes = fc.array(
    fc.record({ on: fc.integer({ min: 0, max: 45 }), amount: fc.integer({ min: 0, max: 60 }) }),
    { maxLength: 12 },
  )
  fc.assert(
    fc.property(sealed, takes, fc.nat(), fc.integer({ min: 1, max: 30 }), (shelf, runs, nth, more) => {
      fc.pre(shelf.length > 0)
      const which = nth % shelf.length
      const later = shelf.map((b, i) =>
        i === which && b.useBy !== null ? { ...b, useBy: plusDays(b.useBy, more) } : b,
      )
      expect(missingInAll(later, runs)).toBeLessThanOrEqual(missingInAll(shelf, runs))
    }),
    { numRuns: 1000 },
  )
})

test("a pool gives what allocating afresh from the rows left over would give", () => {
  fc.assert(
    fc.property(
      shelves,
      fc.array(fc.tuple(wantLists, fc.integer({ min: 0, max: 40 })), { maxLength: 5 }),
      (shelf, runs) => {
        const pool = openPool(shelf)
        let rows = shelf
        for (const [wants, n] of runs.toSorted((a, b) => a[1] - b[1])) {
          const on = day(n)
          const afresh = allocate(wants, rows, on)
          const { picks, missing } = pool.takeAll(wants, on)
          expect(picks).toEqual(afresh.picks)
          expect(missing).toEqual(afresh.kind === "short" ? afresh.missing : [])
          rows = rows.map((row) =>
            afterPicks(row, sum(picks.filter((p) => p.containerId === row.containerId)), on),
          )
        }
      },
    ),
  )
})

function afterPicks(row: Shelved, taken: number, on: string): Shelved {
  if (taken === 0) return row
  const left = { ...row, amountLeft: row.amountLeft - taken }
  if (row.openedOn !== null) return left
  const life = row.openLife?.unit === "days" ? plusDays(on, row.openLife.value) : null
  return { ...left, openedOn: on, useBy: [row.useBy, life].filter((d) => d !== null).sort()[0] ?? null }
}
