import { expect, test } from "vitest"
import { undo } from "../../server/history/service.ts"
import { find, mixByCode } from "../../server/lookup/service.ts"
import { twoCupsOfOneMix } from "../support/one-mix.ts"
import { someone, testStudio } from "../support/studio.ts"

test("a mix leads to its cups and the bottles it was poured from", () => {
  const { studio, batch, bottles, code } = twoCupsOfOneMix()
  expect(find(studio, code.toLowerCase())).toEqual({ kind: "page", to: `/mixes/${code}` })
  const mix = mixByCode(studio, code)
  expect(mix).toMatchObject({
    resinSystem: "Clear 1:1",
    layer: "Coat 1",
    batchId: batch.batchId,
    undone: false,
  })
  expect(mix.cups.map((cup) => cup.serial)).toEqual(batch.cups.map((cup) => cup.serial))
  expect(mix.containers).toMatchObject(
    bottles.map(({ code }) => ({ code, baseUnit: "uL", amount: 25_000, measured: false })),
  )
})

test("a mix whose coat was undone says so", () => {
  const { studio, code, coat } = twoCupsOfOneMix()
  undo(studio, someone(), coat.actionId)
  expect(mixByCode(studio, code).undone).toBe(true)
})

test("a cup's serial leads to the cup; a right code that was never given out is none", () => {
  const { studio, batch } = twoCupsOfOneMix()
  const serial = batch.cups[0]!.serial
  expect(find(studio, serial)).toEqual({ kind: "page", to: `/cups/${serial}` })
  const other = testStudio()
  expect(find(other, serial)).toEqual({
    kind: "nothing",
    sentence: `${serial} looks right, but no cup of this studio has that code.`,
  })
})
