import { expect, test } from "vitest"
import { crowding } from "../soak/crowd.ts"
import { fillingDisk } from "../soak/full.ts"
import { killingImport } from "../soak/import.ts"
import { killing } from "../soak/kill.ts"

// short runs of what `npm run soak` does at length

test("killed in the middle of its work, it has kept all it said was done, whole and once", async () => {
  const { kills, replayed, wrong } = await killing(2, 11)
  expect(wrong).toEqual([])
  expect(kills).toBe(2)
  expect(replayed).toBeGreaterThan(4)
}, 180_000)

test("killed while a long file is brought in, it has all of its rows or none", async () => {
  const { kills, wrong } = await killingImport(2, 1_000, 11)
  expect(wrong).toEqual([])
  expect(kills).toBe(2)
}, 180_000)

test("eight at the same bottles, through two programs, take what is there and no more", async () => {
  const { taken, wrong } = await crowding(6, 5, 11)
  expect(wrong).toEqual([])
  expect(taken).toBeGreaterThan(0)
}, 180_000)

test("on a full disk it says so, loses nothing, and goes on when there is room", async ({ skip }) => {
  const full = await fillingDisk(11)
  if (full === null) skip("a small disk can be made by root on Linux alone")
  expect(full!.wrong).toEqual([])
  expect(full!.refused).toBeGreaterThan(0)
}, 180_000)
