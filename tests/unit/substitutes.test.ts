import { beforeEach, describe, expect, test } from "vitest"
import {
  batchProgress,
  coatLayer,
  finishBatch,
  startBatch,
  takeInsteadOf,
} from "../../server/batches/service.ts"
import { layerNeed } from "../../server/domain/layers.ts"
import { substituteAmount, withSubstitutes } from "../../server/domain/substitutes.ts"
import { forecast, whatIf } from "../../server/forecast/service.ts"
import { act } from "../../server/ledger/act.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { changed, made } from "../../server/ledger/row-change.ts"
import { addOrder, orderById } from "../../server/orders/service.ts"
import { shoppingList } from "../../server/purchasing/service.ts"
import {
  addSupply,
  changeSupply,
  keepSubstitutes,
  substitutes,
  supplyById,
} from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"
import { someone, type TestStudio, testStudio } from "../support/studio.ts"
import { layer, pieceUse, plan, resinUse, supply, supplyUse, system } from "./plan-fixtures.ts"

const MEASURES = { volumeStepUl: 500, massStepMg: 100 }
const own = supply(20, { name: "Nitrile gloves", baseUnit: "each" })
const other = supply(21, { name: "Vinyl gloves", baseUnit: "each" })
const need = (of: ReturnType<typeof plan>, cups: number) => layerNeed(of, of.layers[0]!, cups, MEASURES)

describe("a plan with something in place of its own", () => {
  const gloves = plan([layer(1, [resinUse(), supplyUse({ supply: own, amount: 2 })])])
  const drawn = (of: ReturnType<typeof plan>, id: number) =>
    need(of, 6).draws.filter((draw) => draw.supplyId === id)

  test("takes as much of it, and says what it stands for", () => {
    const replaced = withSubstitutes(gloves, { supplies: new Map([[20, { supply: other, ratioPpm: 1e6 }]]) })
    expect(drawn(replaced, 20)).toEqual([])
    expect(drawn(replaced, 21)).toMatchObject([
      { amount: 12, working: { title: "Vinyl gloves for 6 cups, in place of Nitrile gloves" } },
    ])
    // all else is as it was
    expect(need(replaced, 6).mixes).toEqual(need(gloves, 6).mixes)
  })

  test("takes more where more of it stands for one, rounded up to whole pieces", () => {
    const replaced = withSubstitutes(gloves, {
      supplies: new Map([[20, { supply: other, ratioPpm: 1_100_000 }]]),
    })
    // 12 × 1.1 = 13.2
    const [draw] = drawn(replaced, 21)
    expect(draw).toMatchObject({ amount: 14, working: { result: { value: 14 } } })
    expect(draw?.working.inputs.at(-1)).toMatchObject({ name: "as much of it for 1", value: 1.1 })
  })

  test("cuts pieces of the same size from its own sheets, whatever stands for 1", () => {
    const sheet = (id: number, name: string, side: number) =>
      supply(id, { name, kind: "vinyl", baseUnit: "mm2", sheet: { widthUm: side, heightUm: side } })
    const cut = plan([layer(1, [pieceUse({ supply: sheet(25, "Black sheet", 300_000) })])])
    const other = { supply: sheet(26, "Grey sheet", 200_000), ratioPpm: 2_000_000 }
    const asOwn = plan([layer(1, [pieceUse({ supply: other.supply })])])
    const [own] = drawn(asOwn, 26)
    expect(drawn(withSubstitutes(cut, { supplies: new Map([[25, other]]) }), 26)).toMatchObject([
      { amount: own!.amount, offcut: own!.offcut, working: { formula: own!.working.formula } },
    ])
  })

  test("never replaces a part of a resin: A sets only with its own B", () => {
    const b = { supply: supply(22, { name: "Another B", kind: "hardener" }), ratioPpm: 1e6 }
    const replaced = withSubstitutes(gloves, { supplies: new Map([[system().partB.id, b]]) })
    expect(need(replaced, 6)).toEqual(need(gloves, 6))
  })

  test("pigment that stands in for another keeps to what the resin takes", () => {
    const pigment = supply(23, { name: "Weak tint", kind: "pigment", baseUnit: "mg" })
    const strong = supply(24, { name: "Strong tint", kind: "pigment", baseUnit: "mg" })
    const tinted = plan([
      layer(1, [
        resinUse({ system: system({ maxPigmentPpm: 50_000 }) }),
        supplyUse({ supply: pigment, amount: 500 }),
      ]),
    ])
    expect(() => need(tinted, 6)).not.toThrow()
    const replaced = withSubstitutes(tinted, {
      supplies: new Map([[23, { supply: strong, ratioPpm: 10_000_000 }]]),
    })
    expect(() => need(replaced, 6)).toThrow(/keeps it from curing/)
  })

  test.each([
    [12, 1_000_000, 12],
    [10, 333_333, 4],
    [3, 1_000_001, 4],
    [1_000_000, 1_500_000, 1_500_000],
    [0, 2_000_000, 0],
  ])("%i at %i ppm are %i: rounded up, never one too many", (amount, ratio, result) => {
    expect(substituteAmount(amount, ratio)).toBe(result)
  })
})

describe("what may be used in its place", () => {
  let studio: TestStudio
  let here: ReturnType<typeof planningStudio>
  let dome: number
  beforeEach(() => {
    studio = testStudio({ shippingDays: 2, ...ROOMY })
    here = planningStudio(studio)
    dome = addSupply(studio, plainSupply("Dome lids", { kind: "packaging", baseUnit: "each" }))
    keepSubstitutes(studio, here.ids.lid, [{ supplyId: dome, ratioPpm: 1e6 }])
  })
  const shelf = (lids: number, domes: number, cups = 12) => {
    for (const id of [here.ids.partA, here.ids.partB]) stock(studio, id, cups * 10_000)
    stock(studio, here.ids.blank, cups)
    if (lids > 0) stock(studio, here.ids.lid, lids)
    if (domes > 0) stock(studio, dome, domes)
  }
  const order = (quantity: number, dueOn = "2026-12-20") => {
    const lines = [{ designId: here.designId, quantity, dueOn, note: "" }]
    const { orderId } = addOrder(studio, someone(), {
      buyerId: null,
      state: "planned",
      note: "",
      lines,
    }).answer
    return orderById(studio, orderId).lines[0]!
  }
  const left = (supplyId: number) =>
    studio.file.firstText<{ n: number }>(
      "SELECT coalesce(sum(amount_left), 0) AS n FROM container WHERE supply_id = ?",
      [supplyId],
    )!.n

  test.each([
    ["a blank", () => here.ids.blank, /blank has no substitute/],
    ["a part of a resin", () => here.ids.partA, /part of a resin/],
    ["itself", () => here.ids.lid, /another supply/],
    [
      "what is counted otherwise",
      () => addSupply(studio, plainSupply("Wax", { kind: "other", baseUnit: "mg" })),
      /is not counted as/,
    ],
  ])("is not %s", (_what, id, sentence) => {
    expect(() => keepSubstitutes(studio, here.ids.lid, [{ supplyId: id(), ratioPpm: 1e6 }])).toThrow(sentence)
    expect(substitutes(studio).get(here.ids.lid)).toEqual([{ supplyId: dome, ratioPpm: 1e6 }])
  })

  test("what stands in for something stays counted as it is", () => {
    expect(() => changeSupply(studio, dome, { ...supplyById(studio, dome), baseUnit: "mg" })).toThrow(
      /stay counted as it is/,
    )
  })

  test("an undone supply does not leave a substitute behind that is not there", () => {
    const added = act(studio, "set up", someone(), {}, (now) => {
      const answer = made(now, "supply", () =>
        addSupply(studio, plainSupply("Flip lids", { kind: "packaging", baseUnit: "each" })),
      )
      return { summary: "Flip lids is added", answer }
    })
    const allowed = act(studio, "set up", someone(), {}, (now) => {
      changed(now, "supply", here.ids.lid, () =>
        keepSubstitutes(studio, here.ids.lid, [{ supplyId: added.answer, ratioPpm: 1e6 }]),
      )
      return { summary: "Lids are changed", answer: 0 }
    })
    expect(() => reverse(studio, someone(), added.actionId)).toThrow(/Undo first: “Lids are changed”/)
    reverse(studio, someone(), allowed.actionId)
    expect(substitutes(studio).get(here.ids.lid)).toEqual([{ supplyId: dome, ratioPpm: 1e6 }])
    reverse(studio, someone(), added.actionId)
  })

  test("a forecast offers it with what is free after all other needs, and takes none of it", () => {
    shelf(3, 9)
    order(10)
    const answer = forecast(studio)
    expect(answer.lines[0]).toMatchObject({ covered: 3 })
    expect(answer.needs.filter(({ supplyId }) => supplyId === dome)).toEqual([])
    expect(answer.shortfalls).toMatchObject([
      { supplyId: here.ids.lid, substitutes: [{ supply: "Dome lids", free: 9, ratioPpm: 1e6 }] },
    ])
    expect(shoppingList(studio).sellers[0]?.lines[0]?.reasons[0]?.substitutes).toMatchObject([{ free: 9 }])
    const line = { designId: here.designId, quantity: 2, dueOn: "2026-12-30" }
    expect(whatIf(studio, [line]).adds.find((one) => one.supplyId === here.ids.lid)).toMatchObject({
      substitutes: [{ free: 9 }],
    })
  })

  test("nothing of it is offered that other needs take, that goes off before, or that is held", () => {
    shelf(0, 0)
    order(10)
    // gone by the day the lids go on
    stock(studio, dome, 5, "2026-12-03")
    stock(studio, dome, 6, "2026-12-31")
    const offered = () =>
      forecast(studio).shortfalls.find((one) => one.supplyId === here.ids.lid)?.substitutes
    expect(offered()).toMatchObject([{ free: 6 }])
    studio.file.runText("UPDATE container SET held = 1 WHERE supply_id = ? AND full_amount = 6", [dome])
    expect(offered()).toEqual([])
  })

  test("chosen for a batch, it is what the batch takes, costs and leads to; other batches take their own", () => {
    shelf(3, 9)
    const line = order(5)
    const input = { versionId: here.versionId, cups: 5, note: "", orderLineId: line.lineId }
    const { batchId } = startBatch(studio, someone(), input).answer
    const insteadOf = [{ supplyId: here.ids.lid, substituteId: dome }]
    expect(() => finishBatch(studio, someone(), { batchId, exceptions: [] })).toThrow(/Lids <b>wide<\/b>/)
    const done = finishBatch(studio, someone(), { batchId, exceptions: [], say: { insteadOf } })
    expect(done.answer).toMatchObject({ good: 5 })
    expect([left(here.ids.lid), left(dome)]).toEqual([3, 4])
    const used = studio.file.allText(
      `SELECT DISTINCT c.supply_id AS id FROM movement m JOIN container c ON c.id = m.container_id
       JOIN coat k ON k.id = m.coat_id JOIN layer l ON l.id = k.layer_id WHERE k.batch_id = ? AND l.name = 'Lid on'`,
      [batchId],
    )
    expect(used).toEqual([{ id: dome }])
    expect(verify(studio.file)).toEqual([])

    const next = startBatch(studio, someone(), { versionId: here.versionId, cups: 3, note: "" }).answer
    finishBatch(studio, someone(), { batchId: next.batchId, exceptions: [] })
    expect([left(here.ids.lid), left(dome)]).toEqual([0, 4])

    reverse(studio, someone(), done.actionId)
    expect(left(dome)).toBe(9)
    const again = batchProgress(studio, batchId).plan.layers.flatMap((one) => one.uses)
    expect(again.some((use) => "inPlaceOf" in use)).toBe(false)
  })

  test("once chosen it holds for the batch's later layers and in the forecast, until it is taken back", () => {
    shelf(0, 9)
    const line = order(4)
    const input = { versionId: here.versionId, cups: 4, note: "", orderLineId: line.lineId }
    const { batchId } = startBatch(studio, someone(), input).answer
    expect(forecast(studio).shortfalls).toMatchObject([{ supplyId: here.ids.lid, missing: 4 }])
    const choice = { supplyId: here.ids.lid, substituteId: dome }
    const done = takeInsteadOf(studio, someone(), { batchId, choice })
    expect(done.summary).toBe(`Batch ${batchId} takes Dome lids in place of Lids <b>wide</b>`)
    const answer = forecast(studio)
    expect(answer.shortfalls).toEqual([])
    expect(answer.needs.filter(({ supplyId }) => supplyId === dome)).toMatchObject([{ amount: 4 }])
    coatLayer(studio, someone(), { batchId, position: 1 })
    coatLayer(studio, someone(), { batchId, position: 2 })
    expect(left(dome)).toBe(5)
  })

  test("the design's own can be taken again, and an undo of the choice does the same", () => {
    shelf(4, 9)
    const { batchId } = startBatch(studio, someone(), { versionId: here.versionId, cups: 4, note: "" }).answer
    const choice = { supplyId: here.ids.lid, substituteId: dome }
    takeInsteadOf(studio, someone(), { batchId, choice })
    const back = takeInsteadOf(studio, someone(), { batchId, choice: { ...choice, substituteId: null } })
    reverse(studio, someone(), back.actionId)
    expect(forecast(studio).needs.some(({ supplyId }) => supplyId === dome)).toBe(true)
    takeInsteadOf(studio, someone(), { batchId, choice: { ...choice, substituteId: null } })
    finishBatch(studio, someone(), { batchId, exceptions: [] })
    expect([left(here.ids.lid), left(dome)]).toEqual([0, 9])
  })

  test("what nobody allowed is not taken", () => {
    shelf(0, 9)
    const { batchId } = startBatch(studio, someone(), { versionId: here.versionId, cups: 1, note: "" }).answer
    const flip = addSupply(studio, plainSupply("Flip lids", { kind: "packaging", baseUnit: "each" }))
    const choice = { supplyId: here.ids.lid, substituteId: flip }
    expect(() => takeInsteadOf(studio, someone(), { batchId, choice })).toThrow(/may not be used in place/)
  })
})
