import { expect, test } from "vitest"
import { undo } from "../../server/history/service.ts"
import { find, mixByCode } from "../../server/lookup/service.ts"
import { receiveOpening } from "../../server/receiving/service.ts"
import { addSupply } from "../../server/supplies/service.ts"
import { twoCupsOfOneMix } from "../support/one-mix.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"
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

test("0 read for O at the end of a code written on a bottle: the one that is there is offered, and only that", () => {
  const studio = testStudio()
  const supplyId = addSupply(studio, plainSupply("Clear A", { kind: "resin" }))
  const opening = { supplyId, fullAmount: 500_000, amount: 500_000, opened: false, expiresOn: null }
  const { containers } = receiveOpening(studio, someone(), opening).answer
  // the first bottle of every studio: its code ends in the letter O
  expect(containers.map(({ code }) => code)).toEqual(["K0001O"])
  expect(find(studio, "k0001 0")).toMatchObject({
    kind: "nothing",
    meant: { code: "K0001O", to: "/containers/K0001O" },
  })
  // another wrong character is a slip, and a code that was never given out is not offered
  expect(find(studio, "K0001P")).not.toHaveProperty("meant")
  expect(find(testStudio(), "K00010")).not.toHaveProperty("meant")
})
