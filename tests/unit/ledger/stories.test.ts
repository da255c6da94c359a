import { beforeEach, describe, expect, test } from "vitest"
import { act } from "../../../server/ledger/act.ts"
import { addCoat, changeCup, startBatch } from "../../../server/ledger/cups.ts"
import { markLot, markOpened } from "../../../server/ledger/marks.ts"
import { move, transfer } from "../../../server/ledger/move.ts"
import { onHand } from "../../../server/ledger/on-hand.ts"
import { reverse } from "../../../server/ledger/reverse.ts"
import { bareDesign, receiveOne, supplyRow } from "../../support/catalogue.ts"
import { someone, type TestStudio, testStudio } from "../../support/studio.ts"

type Bottle = ReturnType<typeof receiveOne>[number]

/** A studio with one resin kit design: two coats of clear over a blank. */
function studioWithKit() {
  const studio = testStudio()
  const resin = supplyRow(studio, { name: "Clear A" })
  const hardener = supplyRow(studio, { name: "Clear B", kind: "hardener" })
  const { versionId, layerIds } = bareDesign(studio, 2)
  return { studio, resin, hardener, versionId, layers: layerIds }
}

function amounts(studio: TestStudio) {
  return Object.fromEntries(onHand(studio.file, "America/Chicago").map((c) => [c.code, c.amountLeft]))
}

/** The cups that a lot is in: through its own bottle and through every bottle it was poured into before the coat. */
function cupsOfLot(studio: TestStudio, lotId: number): string[] {
  return studio.file
    .allText<{ serial: string }>(
      `SELECT DISTINCT cup.serial FROM container_lot l JOIN movement came ON came.id = l.movement_id
         JOIN movement used ON used.container_id = l.container_id AND used.kind = 'use' AND used.id > l.movement_id
         JOIN coat_cup cc ON cc.coat_id = used.coat_id JOIN cup ON cup.id = cc.cup_id
       WHERE l.lot_id = ?
         AND NOT EXISTS (SELECT 1 FROM action r WHERE r.reverses_action_id IN (came.action_id, used.action_id))
       ORDER BY cup.serial`,
      [lotId],
    )
    .map((row) => row.serial)
}

describe("three stories", () => {
  let set: ReturnType<typeof studioWithKit>
  beforeEach(() => {
    set = studioWithKit()
  })

  function coat(position: 1 | 2, batchId: number, cupIds: number[], from: [number, number][]) {
    return act(set.studio, "coat", someone(), { position, cupIds }, (now) => {
      const coatId = addCoat(now, {
        batchId,
        layerId: set.layers[position - 1]!,
        cupIds,
        workings: [],
        insisted: false,
      })
      for (const [id, amount] of from) move(now, id, -amount, { kind: "use", basis: "planned", coatId })
      return { summary: `Coat ${position}`, answer: null }
    })
  }

  test("a kit is received, opened, used over two coats by three cups of which one is scrapped; one action undone", () => {
    const { studio, resin, hardener, versionId } = set
    const [a, b] = receiveOne(studio, [resin, hardener], "L-100", { kitUnit: 1 }) as [Bottle, Bottle]
    expect(amounts(studio)).toEqual({ [a.code]: 500_000, [b.code]: 500_000 })

    act(studio, "open", someone(), { code: a.code }, (now) => {
      markOpened(now, a.id)
      return { summary: "Opened A", answer: null }
    })
    const opened = onHand(studio.file, "America/Chicago")
    // Half a year after opening on 1 Dec comes before the label's 30 June.
    expect(opened.map((c) => [c.openedOn, c.useBy])).toEqual([
      ["2026-12-01", "2027-06-01"],
      [null, "2027-06-30"],
    ])

    const { batchId, cups } = act(studio, "start", someone(), {}, (now) => ({
      summary: "Started 3",
      answer: startBatch(now, { versionId, cups: 3, note: "" }),
    })).answer
    const ids = cups.map((cup) => cup.id)
    coat(1, batchId, ids, [
      [a.id, 36_000],
      [b.id, 36_000],
    ])
    act(studio, "scrap", someone(), {}, (now) => {
      changeCup(now, ids[2]!, { state: "scrapped" })
      return { summary: "Scrapped one", answer: null }
    })
    const second = coat(2, batchId, ids.slice(0, 2), [
      [a.id, 24_000],
      [b.id, 24_000],
    ])
    expect(amounts(studio)).toEqual({ [a.code]: 440_000, [b.code]: 440_000 })
    const cost = () =>
      studio.file
        .allText("SELECT cost_left_micro AS cost FROM container ORDER BY id")
        .map((row) => (row as { cost: number }).cost)
    // 20.00 for 500 mL: 60 mL took 2.40
    expect(cost()).toEqual([17_600_000, 17_600_000])

    reverse(studio, someone(), second.actionId)
    expect(amounts(studio)).toEqual({ [a.code]: 464_000, [b.code]: 464_000 })
    expect(cost()).toEqual([18_560_000, 18_560_000])
    expect(() => reverse(studio, someone(), second.actionId)).toThrow("This was undone before.")
    // B was opened by its first use, which still stands.
    expect(onHand(studio.file, "America/Chicago").every((c) => c.openedOn === "2026-12-01")).toBe(true)
  })

  test("a bottle is topped up from another; the older one's use-by day and lot come along", () => {
    const { studio, resin } = set
    const [old] = receiveOne(studio, [resin], "L-1") as [Bottle]
    act(studio, "open", someone(), {}, (now) => {
      markOpened(now, old.id)
      return { summary: "Opened", answer: null }
    })
    studio.setNow("2027-01-15")
    const [fresh] = receiveOne(studio, [resin], "L-2") as [Bottle]
    const pour = act(studio, "transfer", someone(), {}, (now) => {
      transfer(now, old.id, fresh.id, 100_000, "estimated", "2027-06-01")
      return { summary: "Topped up", answer: null }
    })
    const [left, topped] = onHand(studio.file, "America/Chicago")
    expect([left?.amountLeft, topped?.amountLeft]).toEqual([400_000, 600_000])
    expect([left?.costLeftMicro, topped?.costLeftMicro]).toEqual([16_000_000, 24_000_000])
    expect(topped?.useBy).toBe("2027-06-01")

    reverse(studio, someone(), pour.actionId)
    const [back, alone] = onHand(studio.file, "America/Chicago")
    expect([back?.amountLeft, alone?.amountLeft]).toEqual([500_000, 500_000])
    expect([alone?.useBy, alone?.openedOn]).toEqual(["2027-06-30", null])
  })

  test("a lot is traced to its cups through its own bottle and through the one it topped up, not before", () => {
    const { studio, resin, versionId } = set
    const [one] = receiveOne(studio, [resin], "L-1") as [Bottle]
    const [two] = receiveOne(studio, [resin], "L-2") as [Bottle]
    const start = () =>
      act(studio, "start", someone(), {}, (now) => ({
        summary: "Started",
        answer: startBatch(now, { versionId, cups: 1, note: "" }),
      })).answer
    const [early, late] = [start(), start()]
    coat(1, early.batchId, [early.cups[0]!.id], [[two.id, 25_000]])
    act(studio, "transfer", someone(), {}, (now) => {
      transfer(now, one.id, two.id, 50_000, "estimated", null)
      return { summary: "Topped up", answer: null }
    })
    coat(1, late.batchId, [late.cups[0]!.id], [[two.id, 25_000]])
    expect(cupsOfLot(studio, one.lotId)).toEqual([late.cups[0]!.serial])
    expect(cupsOfLot(studio, two.lotId)).toEqual([early.cups[0]!.serial, late.cups[0]!.serial])

    act(studio, "hold", someone(), {}, (now) => {
      markLot(now, one.lotId, "held")
      return { summary: "Held", answer: null }
    })
    // Held with its lot: the lot's own bottle, and the one it was poured into.
    expect(onHand(studio.file, "America/Chicago").map((c) => c.held)).toEqual([true, true])
  })
})
