import fc from "fast-check"
import { expect, test } from "vitest"
import { Refusal } from "../../server/domain/refusal.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { closeDelivery, receive, reopenDelivery } from "../../server/receiving/service.ts"
import { decant, topUp, writeOff } from "../../server/shelf/service.ts"
import { packById } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { bottleWithCode, deliveryFrom } from "../support/receiving-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"

/** What is done next, and two numbers that say with which and how much. */
const STEPS = [
  "receive",
  "receive",
  "spill",
  "decant",
  "top up",
  "finish",
  "finish",
  "open again",
  "undo",
] as const
const step = fc.record({
  what: fc.constantFrom(...STEPS),
  which: fc.nat(50),
  much: fc.integer({ min: 0, max: 40_000_000 }),
})

test("however a delivery is finished, opened again and undone between its uses, its costs add up and the book keeps every rule", () => {
  let finished = 0
  const history = fc.property(fc.array(step, { minLength: 4, maxLength: 25 }), (steps) => {
    const studio = testStudio()
    const packId = bottleWithCode(studio, "Teal", [])
    const { supplyId } = packById(studio, packId).contents[0]!
    const { deliveryId } = deliveryFrom(studio, "Harbour Supply")
    const done: number[] = []
    for (const { what, which, much } of steps) {
      const bottles = onHand(studio.file, "America/Chicago")
      const bottle = bottles[which % Math.max(1, bottles.length)]
      const other = bottles[(which + 1) % Math.max(1, bottles.length)]
      const act = (): number | null => {
        switch (what) {
          case "receive":
            return receive(studio, someone(), {
              deliveryId,
              packId,
              count: 1 + (which % 3),
              priceMicro: which % 4 === 0 ? 0 : much,
              lots: [{ supplyId, number: `L-${which % 3}`, madeOn: null, expiresOn: null }],
            }).actionId
          case "spill":
            if (!bottle) return null
            return writeOff(studio, someone(), {
              code: bottle.code,
              amount: which % 3 === 0 ? null : 1 + (much % bottle.amountLeft),
              kind: "waste",
              reason: "",
            }).actionId
          case "decant":
            if (!bottle) return null
            return decant(studio, someone(), {
              fromCode: bottle.code,
              amount: 1 + (much % bottle.amountLeft),
            }).actionId
          case "top up":
            if (!bottle || !other || bottle === other) return null
            return topUp(studio, someone(), {
              fromCode: bottle.code,
              toCode: other.code,
              amount: 1 + (much % bottle.amountLeft),
            }).actionId
          case "finish":
            return closeDelivery(studio, someone(), deliveryId, {
              shippingMicro: much,
              taxMicro: which * 7,
            }).actionId
          case "open again":
            return reopenDelivery(studio, someone(), deliveryId).actionId
          case "undo": {
            const actionId = done[which % Math.max(1, done.length)]
            if (actionId === undefined) return null
            reverse(studio, someone(), actionId)
            return null
          }
        }
      }
      try {
        const actionId = act()
        if (actionId !== null) done.push(actionId)
        if (what === "finish") finished++
      } catch (error) {
        // what cannot be done is refused with a sentence, and then nothing is done
        if (!(error instanceof Refusal)) throw error
      }
      expect(verify(studio.file), `after ${what}`).toEqual([])
    }
    studio.file.close()
  })
  fc.assert(history, { numRuns: 80, seed: 20261125 })
  // the histories must have had something to share out
  expect(finished).toBeGreaterThan(40)
})
