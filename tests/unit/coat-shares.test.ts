import { Temporal } from "temporal-polyfill"
import { expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { cupCosts } from "../../server/batches/service.ts"
import { coatShares } from "../../server/domain/coat-shares.ts"
import { traceCup } from "../../server/tracing/service.ts"

test("six blanks out of two cartons are one a cup, and each is paid by the cup that it became", () => {
  // by hand: two of the old carton at 3.00, four of the new one at 5.00
  const shares = coatShares(
    [
      { supply: "Blank", amount: 2, costMicro: 6_000_000 },
      { supply: "Blank", amount: 4, costMicro: 20_000_000 },
    ],
    6,
  )
  expect(shares.map(({ amounts }) => amounts)).toEqual([
    [1, 1, 0, 0, 0, 0],
    [0, 0, 1, 1, 1, 1],
  ])
  const costs = [0, 1, 2, 3, 4, 5].map((cup) => shares[0]!.costsMicro[cup]! + shares[1]!.costsMicro[cup]!)
  expect(costs).toEqual([3_000_000, 3_000_000, 5_000_000, 5_000_000, 5_000_000, 5_000_000])
})

test("what was given back whole still costs what was not given back with it, shared evenly", () => {
  expect(coatShares([{ supply: "Paint", amount: 0, costMicro: 3 }], 2)).toEqual([
    { amounts: [0, 0], costsMicro: [2, 1] },
  ])
})

test("what a cup cost is the same on its own page, in its batch and in the list of all cups; all cups together cost what all coats took", () => {
  const file = openStudioFile(":memory:")
  const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
  loadDemo(file, now)
  const all = cupCosts(file)
  expect(all.size).toBeGreaterThan(100)
  for (const { id, serial, batch_id } of file.allText<{ id: number; serial: string; batch_id: number }>(
    "SELECT id, serial, batch_id FROM cup WHERE state IS NOT NULL AND id % 7 = 0",
  )) {
    const { costMicro } = traceCup({ file, now: () => now }, serial)
    expect(all.get(id) ?? 0, serial).toBe(costMicro)
    expect(cupCosts(file, batch_id).get(id) ?? 0, serial).toBe(costMicro)
  }
  const taken = file.firstText<{ n: number }>(
    "SELECT -sum(cost_micro) AS n FROM movement WHERE coat_id IS NOT NULL AND kind IN ('use', 'reverse')",
  )
  expect([...all.values()].reduce((sum, cost) => sum + cost, 0)).toBe(taken?.n)
})
