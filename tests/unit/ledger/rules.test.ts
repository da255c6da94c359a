import { describe, expect, test } from "vitest"
import { act } from "../../../server/ledger/act.ts"
import { addCoat, changeCup, startBatch } from "../../../server/ledger/cups.ts"
import { lotOf } from "../../../server/ledger/fill.ts"
import { markContainer, markLot, markOpened, putOnBench } from "../../../server/ledger/marks.ts"
import { move, transfer } from "../../../server/ledger/move.ts"
import { onHand } from "../../../server/ledger/on-hand.ts"
import { reverse } from "../../../server/ledger/reverse.ts"
import { bareDesign, receiveOne, supplyRow } from "../../support/catalogue.ts"
import { someone, type TestStudio, testStudio } from "../../support/studio.ts"

function oneBottle() {
  const studio = testStudio()
  const resin = supplyRow(studio, { name: "Clear A" })
  const [bottle] = receiveOne(studio, [resin], "L-1")
  return { studio, resin, bottle: bottle! }
}

function pourOut(studio: TestStudio, id: number, amount: number, by = someone()) {
  return act(studio, "waste", by, { id, amount }, (now) => {
    move(now, id, -amount, { kind: "waste", basis: "estimated" })
    return { summary: `Poured out ${amount}`, answer: { amount } }
  })
}

const left = (studio: TestStudio) => onHand(studio.file, "America/Chicago").map((c) => c.amountLeft)

describe("amounts", () => {
  test("never fall below zero: the service says so in a sentence, and the file itself refuses", () => {
    const { studio, bottle } = oneBottle()
    expect(() => pourOut(studio, bottle.id, 500_001)).toThrow(/The book says K\w+ \(Clear A\) holds 500 mL/)
    expect(() =>
      act(studio, "waste", someone(), {}, (now) => {
        now.file.insert("movement", {
          action_id: now.actionId,
          container_id: bottle.id,
          kind: "waste",
          amount: -500_001,
          cost_micro: 0,
          basis: "estimated",
          coat_id: null,
          source_container_id: null,
          reverses_movement_id: null,
        })
        return { summary: "", answer: null }
      }),
    ).toThrow(/CHECK constraint failed: amount_left >= 0/)
    expect(left(studio)).toEqual([500_000])
  })

  test.each([
    "UPDATE container SET amount_left = 1",
    "UPDATE container SET cost_left_micro = 1",
    "UPDATE container SET amount_left = amount_left + 500000, last_movement_id = last_movement_id + 1",
    "UPDATE container SET last_movement_id = 0",
  ])("change only by an inserted movement, not by %s", (text) => {
    const { studio } = oneBottle()
    expect(() => studio.file.runText(text)).toThrow("an amount changes only by a movement")
  })

  test("a container starts empty and keeps its code, lot and supply", () => {
    const { studio, bottle } = oneBottle()
    expect(() =>
      studio.file.runText(
        "INSERT INTO container (code, supply_id, lot_id, full_amount, amount_left) VALUES ('X', 1, 1, 1, 1)",
      ),
    ).toThrow("a container starts empty")
    expect(() => studio.file.runText("UPDATE container SET code = 'X' WHERE id = ?", [bottle.id])).toThrow(
      "keeps its code",
    )
  })
})

describe("what was done stays written", () => {
  const tables = ["action", "movement", "mark", "cup_change", "coat", "coat_cup", "mix", "container_lot"]
  const kept = [...tables, "container", "lot", "cup", "receipt_line"]

  function everything() {
    const studio = testStudio()
    const resin = supplyRow(studio, { name: "Clear A" })
    const hardener = supplyRow(studio, { name: "Clear B", kind: "hardener" })
    const systemId = studio.file.insert("resin_system", {
      name: "Clear",
      part_a_supply_id: resin,
      part_b_supply_id: hardener,
      ratio_basis: "volume",
      ratio_a: 1,
      ratio_b: 1,
      pot_life_min: 40,
      largest_mix_ul: 500_000,
      mixing_min: 5,
      cup_work_min: 5,
      recoat_earliest_min: 360,
      recoat_latest_min: null,
      full_cure_min: 4320,
    })
    const [bottle] = receiveOne(studio, [resin], "L-1")
    const { versionId, layerIds } = bareDesign(studio, 1)
    act(studio, "coat", someone(), {}, (now) => {
      const { batchId, cups } = startBatch(now, { versionId, cups: 1, note: "" })
      markOpened(now, bottle!.id)
      addCoat(now, {
        batchId,
        layerId: layerIds[0]!,
        cupIds: [cups[0]!.id],
        workings: [],
        insisted: false,
        mix: { resinSystemId: systemId, plannedA: 1, plannedB: 1, actualA: 1, actualB: 1, residueUl: 0 },
      })
      return { summary: "A coat", answer: null }
    })
    return studio
  }

  test.each(tables)("rows of %s are never updated, deleted or replaced", (table) => {
    const { file } = everything()
    const [row] = file.allText<Record<string, string | number | null>>(`SELECT * FROM ${table} LIMIT 1`)
    const [column] = Object.keys(row!)
    expect(() => file.runText(`UPDATE ${table} SET ${column} = ${column}`)).toThrow(/never changed/)
    expect(() => file.runText(`DELETE FROM ${table}`)).toThrow(/never deleted/)
    // recursive_triggers makes REPLACE run the delete trigger too
    const columns = Object.keys(row!)
    expect(() =>
      file.runText(
        `INSERT OR REPLACE INTO ${table} (${columns.join()}) VALUES (${columns.map(() => "?").join()})`,
        Object.values(row!),
      ),
    ).toThrow(/never (deleted|changed)|takes back exactly/)
  })

  test.each(kept)("rows of %s are never deleted", (table) => {
    expect(() => everything().file.runText(`DELETE FROM ${table}`)).toThrow(/never deleted/)
  })

  test("a design version that a batch used is frozen with its layers", () => {
    const { file } = everything()
    expect(() => file.runText("UPDATE layer SET name = 'other'")).toThrow("this version has been used")
    expect(() => file.runText("DELETE FROM layer")).toThrow("this version has been used")
    expect(() => file.runText("UPDATE design_version SET full_cure_min = 1")).toThrow(
      "this version has been used",
    )
  })
})

describe("undo", () => {
  test("happens once, and an undo is not undone", () => {
    const { studio, bottle } = oneBottle()
    const pour = pourOut(studio, bottle.id, 1000)
    const undo = reverse(studio, someone(), pour.actionId)
    expect(left(studio)).toEqual([500_000])
    expect(() => reverse(studio, someone(), pour.actionId)).toThrow("undone before")
    expect(() => reverse(studio, someone(), undo.actionId)).toThrow("An undo is not undone")
    // and the file itself holds it
    expect(() =>
      act(studio, "undo", someone(), {}, () => ({ summary: "", answer: null, reverses: pour.actionId })),
    ).toThrow(/UNIQUE/)
    expect(() =>
      act(studio, "undo", someone(), {}, () => ({ summary: "", answer: null, reverses: undo.actionId })),
    ).toThrow("a reversal is not reversed")
  })

  test("of a receipt is refused while what came in was used, and says by what", () => {
    const { studio, bottle } = oneBottle()
    const receipt = studio.file.firstText<{ id: number }>("SELECT id FROM action WHERE kind = 'receive'")!
    const pour = pourOut(studio, bottle.id, 1000)
    expect(() => reverse(studio, someone(), receipt.id)).toThrow("Undo first: “Poured out 1000”.")
    reverse(studio, someone(), pour.actionId)
    reverse(studio, someone(), receipt.id)
    expect(left(studio)).toEqual([])
  })

  test("of a top-up gives the cost back exactly, also after the mixture was used", () => {
    const studio = testStudio()
    const resin = supplyRow(studio, { name: "Clear A" })
    const [one, two] = [
      receiveOne(studio, [resin], "L-1")[0]!,
      receiveOne(studio, [resin], "L-2", { amount: 50_000 })[0]!,
    ]
    const pour = act(studio, "transfer", someone(), {}, (now) => {
      transfer(now, one.id, two.id, 100_000, "estimated", null)
      return { summary: "Topped up", answer: null }
    })
    pourOut(studio, two.id, 40_000)
    const total = () =>
      studio.file.firstText<{ cost: number }>("SELECT sum(cost_left_micro) AS cost FROM container")!.cost
    const before = total()
    reverse(studio, someone(), pour.actionId)
    expect(left(studio)).toEqual([500_000, 10_000])
    expect(total()).toBe(before)
  })

  test("of a top-up is refused once it was poured on into a third bottle", () => {
    const studio = testStudio()
    const resin = supplyRow(studio, { name: "Clear A" })
    const [a, b, c] = ["1", "2", "3"].map((n) => receiveOne(studio, [resin], n)[0]!)
    const pour = (from: number, to: number) =>
      act(studio, "transfer", someone(), {}, (now) => {
        transfer(now, from, to, 10_000, "estimated", null)
        return { summary: `Topped up ${to}`, answer: null }
      })
    const first = pour(a!.id, b!.id)
    const second = pour(b!.id, c!.id)
    expect(() => reverse(studio, someone(), first.actionId)).toThrow("poured on into another container")
    reverse(studio, someone(), second.actionId)
    reverse(studio, someone(), first.actionId)
    expect(left(studio)).toEqual([500_000, 500_000, 500_000])
  })

  test("of opening, holding and the bench restores what was before", () => {
    const studio = testStudio()
    const resin = supplyRow(studio, { name: "Clear A" })
    const [one, two] = ["1", "2"].map((n) => receiveOne(studio, [resin], n)[0]!)
    const mark = (work: (now: Parameters<typeof putOnBench>[0]) => void) =>
      act(studio, "mark", someone(), {}, (now) => {
        work(now)
        return { summary: "Marked", answer: null }
      }).actionId
    const state = () =>
      onHand(studio.file, "America/Chicago").map((c) => [c.openedOn !== null, c.held, c.onBench] as const)
    mark((now) => putOnBench(now, one!.id))
    const swapped = mark((now) => putOnBench(now, two!.id))
    const opened = mark((now) => markOpened(now, one!.id))
    const held = mark((now) => markContainer(now, one!.id, "held"))
    const lotHeld = mark((now) => markLot(now, two!.lotId, "held"))
    expect(state()).toEqual([
      [true, true, false],
      [false, true, true],
    ])
    for (const id of [lotHeld, held, opened, swapped]) reverse(studio, someone(), id)
    expect(state()).toEqual([
      [false, false, true],
      [false, false, false],
    ])
  })

  test("of a coat is refused once the same cup has a later coat", () => {
    const studio = testStudio()
    const { versionId, layerIds } = bareDesign(studio, 2)
    const { batchId, cups } = act(studio, "start", someone(), {}, (now) => ({
      summary: "Started",
      answer: startBatch(now, { versionId, cups: 1, note: "" }),
    })).answer
    const coats = layerIds.map(
      (layerId, index) =>
        act(studio, "coat", someone(), {}, (now) => {
          addCoat(now, { batchId, layerId, cupIds: [cups[0]!.id], workings: [], insisted: false })
          return { summary: `Coat ${index + 1}`, answer: null }
        }).actionId,
    )
    const scrap = act(studio, "scrap", someone(), {}, (now) => {
      changeCup(now, cups[0]!.id, { state: "scrapped" })
      return { summary: "Scrapped", answer: null }
    })
    expect(() => reverse(studio, someone(), coats[1]!)).toThrow("Undo first: “Scrapped”.")
    reverse(studio, someone(), scrap.actionId)
    expect(() => reverse(studio, someone(), coats[0]!)).toThrow("Undo first: “Coat 2”.")
    reverse(studio, someone(), coats[1]!)
    reverse(studio, someone(), coats[0]!)
  })
})

describe("one action", () => {
  test("is all or nothing", () => {
    const { studio, bottle } = oneBottle()
    expect(() =>
      act(studio, "waste", someone(), {}, (now) => {
        move(now, bottle.id, -1000, { kind: "waste", basis: "estimated" })
        throw new Error("power")
      }),
    ).toThrow("power")
    expect(left(studio)).toEqual([500_000])
  })

  test("sent again with its key gives the first answer and takes nothing more; with another body it is refused", () => {
    const { studio, bottle } = oneBottle()
    const by = someone()
    const first = pourOut(studio, bottle.id, 1000, by)
    const again = pourOut(studio, bottle.id, 1000, by)
    expect([again.again, again.answer, again.actionId]).toEqual([true, first.answer, first.actionId])
    expect(left(studio)).toEqual([499_000])
    expect(() => pourOut(studio, bottle.id, 2000, by)).toThrow("already sent with other contents")
  })

  test("that was refused does not use up its key", () => {
    const { studio, bottle } = oneBottle()
    const by = someone()
    expect(() => pourOut(studio, bottle.id, 900_000, by)).toThrow()
    expect(pourOut(studio, bottle.id, 1000, by).again).toBe(false)
  })

  test("cannot lie in the future, nor before the bottle came", () => {
    const { studio, bottle } = oneBottle()
    expect(() => pourOut(studio, bottle.id, 1, someone({ happenedAt: "2026-12-02T12:00" }))).toThrow(
      "still to come",
    )
    expect(() => pourOut(studio, bottle.id, 1, someone({ happenedAt: "2026-11-30T12:00" }))).toThrow(
      "cannot have been used before",
    )
    expect(() => pourOut(studio, bottle.id, 1, someone({ happenedAt: "yesterday" }))).toThrow(
      "could not be read",
    )
  })

  test("keeps the local date of where the studio is", () => {
    const { studio, bottle } = oneBottle()
    studio.setNow("2026-12-05T05:30:00Z")
    const { actionId } = pourOut(studio, bottle.id, 1)
    // 05:30 UTC on the 5th is still the evening of the 4th in Chicago, six hours behind.
    expect(
      studio.file.firstText("SELECT happened_on, happened_offset_min FROM action WHERE id = ?", [actionId]),
    ).toEqual({ happened_on: "2026-12-04", happened_offset_min: -360 })
  })

  test("of a transfer that does not balance is refused by the file", () => {
    const { studio, bottle } = oneBottle()
    expect(() =>
      act(studio, "transfer", someone(), {}, (now) => {
        now.file.insert("movement", {
          action_id: now.actionId,
          container_id: bottle.id,
          kind: "transfer",
          amount: -10,
          cost_micro: 0,
          basis: "estimated",
          coat_id: null,
          source_container_id: null,
          reverses_movement_id: null,
        })
        return { summary: "", answer: null }
      }),
    ).toThrow("a transfer must add up to zero")
  })
})

describe("lots", () => {
  const facts = { makerId: null, madeOn: null, expiresOn: "2027-01-31", expiryBasis: "label" } as const

  test("with the same number of the same maker are one; without a number each stands alone", () => {
    const studio = testStudio()
    const supplyId = supplyRow(studio, { name: "Clear A" })
    const ids = act(studio, "receive", someone(), {}, (now) => ({
      summary: "",
      answer: [
        lotOf(now, { ...facts, supplyId, number: "A1" }),
        lotOf(now, { ...facts, supplyId, number: "A1" }),
        lotOf(now, { ...facts, supplyId, number: null }),
        lotOf(now, { ...facts, supplyId, number: null }),
      ],
    })).answer
    expect(new Set(ids).size).toBe(3)
    expect(ids[0]).toBe(ids[1])
  })

  test("a second delivery with another date on the label is questioned, not overwritten", () => {
    const studio = testStudio()
    const supplyId = supplyRow(studio, { name: "Clear A" })
    act(studio, "receive", someone(), {}, (now) => ({
      summary: "",
      answer: lotOf(now, { ...facts, supplyId, number: "A1" }),
    }))
    expect(() =>
      act(studio, "receive", someone(), {}, (now) => ({
        summary: "",
        answer: lotOf(now, { ...facts, supplyId, number: "A1", expiresOn: "2028-01-31" }),
      })),
    ).toThrow("in the book with expiry Sun 31 Jan 2027")
  })
})

test("cost never leaks: withdrawals in odd amounts add up to the price, the last one takes the rest", () => {
  const studio = testStudio()
  const resin = supplyRow(studio, { name: "Clear A" })
  const [bottle] = receiveOne(studio, [resin], "L-1", { amount: 7 })
  for (const amount of [1, 2, 3, 1]) pourOut(studio, bottle!.id, amount)
  const { out } = studio.file.firstText<{ out: number }>(
    "SELECT sum(cost_micro) AS out FROM movement WHERE amount < 0",
  )!
  expect(out).toBe(-20_000_000)
})
