import { beforeEach, describe, expect, test } from "vitest"
import { learned } from "../../server/batches/learned.ts"
import { recoatOf } from "../../server/batches/recoat.ts"
import {
  batchProgress,
  coatLayer,
  coatsOf,
  finishBatch,
  measureCoats,
  splitBatch,
  startBatch,
  takeInsteadOf,
} from "../../server/batches/service.ts"
import { addDesign, versionOf } from "../../server/designs/service.ts"
import { recoatWindow } from "../../server/domain/after-layer.ts"
import { isResin, layerNeed } from "../../server/domain/layers.ts"
import type { Plan, ResinSystem } from "../../server/domain/plan.ts"
import { mixedFrom, mixedPerPart } from "../../server/domain/resin-parts.ts"
import { withSubstitutes } from "../../server/domain/substitutes.ts"
import { openWork } from "../../server/forecast/open-work.ts"
import { forecast, whatIf } from "../../server/forecast/service.ts"
import { historyOf } from "../../server/history/service.ts"
import { act } from "../../server/ledger/act.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { changed, made } from "../../server/ledger/row-change.ts"
import {
  addResinSystem,
  changeSupply,
  keepResinSubstitutes,
  resinSubstitutes,
  resinSystemById,
  supplyById,
} from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { otherResin, planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { someone, type TestStudio, testStudio } from "../support/studio.ts"
import { layer, plan, resinUse, supply, supplyUse, system } from "./plan-fixtures.ts"

const MEASURES = { volumeStepUl: 500, massStepMg: 100 }
const own = system()
/** By weight, with a slower set: parts 3 and 4. */
const hard = (over: Partial<ResinSystem> = {}) =>
  system({
    id: 2,
    name: "Hard gloss",
    partA: supply(3, { name: "Hard gloss A", kind: "resin", densityMgPerMl: 1130 }),
    partB: supply(4, { name: "Hard gloss B", kind: "hardener", densityMgPerMl: 1010 }),
    ratioBasis: "mass",
    ratioA: 100,
    ratioB: 45,
    potLifeMin: 120,
    ...over,
  })
const instead = (of: Plan, other: ResinSystem) => withSubstitutes(of, { resins: new Map([[own.id, other]]) })
const need = (of: Plan, cups: number) => layerNeed(of, of.layers[0]!, cups, MEASURES)
const clear = plan([layer(1, [resinUse()])])

describe("a plan with another resin in place of its own", () => {
  test("mixes as much of the other, by its own ratio", () => {
    // By hand, 4 cups of 25 mL with 1.5 mL of it left in the mixing cup: 4 × 23.5 + 1.5 = 95.5 mL.
    // 100 : 45 by weight: 100 g are 88.4956 mL, 45 g are 44.5545 mL, together 133.0500 mL.
    // A: 95.5 ÷ 133.05 × 100 = 71.78 g, B: 95.5 ÷ 133.05 × 45 = 32.30 g; on the scale's 0.1 g, up: 71.8 and 32.3 g.
    // In mL, as both are counted: 71.8 ÷ 1.13 = 63.540, 32.3 ÷ 1.01 = 31.980.
    const [mix, ...more] = need(instead(clear, hard()), 4).mixes
    expect(more).toEqual([])
    expect(mix).toMatchObject({
      system: { id: 2 },
      measured: { basis: "mass", a: 71_800, b: 32_300 },
      partA: 63_540,
      partB: 31_980,
      residueUl: 1_500,
    })
  })

  test("takes nothing of its own any more, and says what it stands for", () => {
    const { draws } = need(instead(clear, hard()), 4)
    expect(draws.map(({ supplyId }) => supplyId)).toEqual([9, 3, 4])
    expect(draws[1]!.working.title).toBe("Hard gloss A for 4 cups, in place of Clear resin")
  })

  test("mixed with its own coats of the other resin, it says for which part it stands in", () => {
    const both = plan([layer(1, [resinUse({ amount: 2_000 }), resinUse({ system: hard(), amount: 2_000 })])])
    const titles = need(instead(both, hard()), 1).draws.map(({ working }) => working.title)
    expect(titles).toContain("Hard gloss A for 1 cup, partly in place of Clear resin")
  })

  test("keeps to the other's largest mix and pot life", () => {
    // 95.5 mL are too much for one mix of at most 50 mL: 2 × 23.5 + 1.5 = 48.5 mL fit
    expect(need(instead(clear, hard({ largestMixUl: 50_000 })), 4).mixes.map(({ cups }) => cups)).toEqual([
      2, 2,
    ])
    // 10 minutes a cup and 5 of stirring: a pot life of 18 minutes is enough for one cup
    expect(need(instead(clear, hard({ potLifeMin: 18 })), 4).mixes.map(({ cups }) => cups)).toEqual([
      1, 1, 1, 1,
    ])
    expect(() => need(instead(clear, hard({ largestMixUl: 20_000 })), 4)).toThrow(
      /more than the largest safe mix of Hard gloss/,
    )
  })

  test("glitter by the litre follows the new mix, glitter by the cup stays", () => {
    const glitter = supply(5, { name: "Silver", kind: "glitter", baseUnit: "mg" })
    const dust = supply(6, { name: "Dust", kind: "glitter", baseUnit: "mg" })
    const both = plan([
      layer(1, [
        resinUse(),
        supplyUse({ how: "per-resin", supply: glitter, amount: 40_000 }),
        supplyUse({ supply: dust, amount: 500 }),
      ]),
    ])
    const amounts = (of: Plan) => {
      const { draws, mixes } = need(of, 4)
      const drawn = (id: number) =>
        draws.reduce((sum, draw) => sum + (draw.supplyId === id ? draw.amount : 0), 0)
      return { mixed: mixes.reduce((sum, mix) => sum + mix.mixedUl, 0), silver: drawn(5), dust: drawn(6) }
    }
    // a mix of 50 mL at the most: the mixing cup is left dirty twice
    const other = amounts(instead(both, hard({ largestMixUl: 50_000 })))
    expect(other.mixed).toBeGreaterThan(amounts(both).mixed)
    // 40 g a litre, weighed for each of the two
    expect(other.silver).toBe(2 * Math.round((other.mixed / 2) * 0.04))
    expect(other.dust).toBe(2_000)
  })

  test("pigment keeps to what the other resin takes", () => {
    const tint = supply(7, { name: "Tint", kind: "pigment", baseUnit: "mg" })
    const tinted = plan([layer(1, [resinUse(), supplyUse({ supply: tint, amount: 900 })])])
    expect(() => need(instead(tinted, hard({ maxPigmentPpm: 50_000 })), 4)).not.toThrow()
    expect(() => need(instead(tinted, hard({ maxPigmentPpm: 20_000 })), 4)).toThrow(/at most 2 %/)
  })

  test("a missing density of the other is said as for a design of its own", () => {
    const partA = supply(3, { name: "Hard gloss A", kind: "resin" })
    expect(() => need(instead(clear, hard({ partA })), 4)).toThrow(
      "Hard gloss is mixed by weight, so the density of Hard gloss A is needed; its data sheet has it.",
    )
  })

  // minutes; null: no limit. The design's own resin says 480 to 1440, and does not count any more
  test.each([
    { design: [480, null], other: [600, 900], next: [600, 900] },
    { design: [480, null], other: [300, null], next: [480, null] },
    { design: [480, 1200], other: [600, 2000], next: [600, 1200] },
    { design: [480, 1200], other: [600, 900], next: [600, 900] },
    // no time is left between the two: it is scuffed before the next coat
    { design: [480, 700], other: [900, null], next: [900, 700] },
  ] as const)(
    "design $design and other $other: next coat from and until $next",
    ({ design, other, next }) => {
      const of = plan([
        layer(1, [resinUse()], {
          turnerMin: 0,
          recoatEarliestMin: design[0],
          recoatLatestMin: design[1],
        }),
      ])
      const [put] = instead(of, hard({ recoatEarliestMin: other[0], recoatLatestMin: other[1] })).layers
      expect(put).toMatchObject({ recoatEarliestMin: next[0], recoatLatestMin: next[1] })
      expect(recoatWindow(put!)).toEqual({ earliestMin: next[0], latestMin: next[1] })
    },
  )

  test("the full cure is the longer of the two; layers without it keep their times", () => {
    expect(instead(clear, hard({ fullCureMin: 10_000 })).fullCureMin).toBe(10_000)
    expect(instead(clear, hard({ fullCureMin: 100 })).fullCureMin).toBe(clear.fullCureMin)
    const prep = layer(2, [supplyUse()], { recoatEarliestMin: 5, recoatLatestMin: 60 })
    const other = hard({ recoatEarliestMin: 600, recoatLatestMin: 30 })
    expect(instead(plan([layer(1, [resinUse()]), prep]), other).layers[1]).toEqual(prep)
    // of a design that does not mix it, nothing changes
    const without = plan([prep])
    expect(instead(without, hard({ fullCureMin: 10_000 }))).toEqual(without)
  })

  test("two that stand in for one another change places", () => {
    const both = plan([layer(1, [resinUse()]), layer(2, [resinUse({ system: hard() })])])
    const swapped = withSubstitutes(both, {
      resins: new Map([
        [own.id, hard()],
        [2, own],
      ]),
    })
    const ids = swapped.layers.flatMap(({ uses }) => uses.filter(isResin).map((use) => use.system.id))
    expect(ids).toEqual([2, 1])
  })
})

describe("how much can be mixed from A and B", () => {
  test.each([
    ["1 : 1 by volume, B is short", own, 300_000, 250_000, 500_000],
    ["2 : 1 by volume, A is short", system({ ratioA: 2 }), 300_000, 250_000, 450_000],
    // by hand: 200 mL of B are 202 g, for 448.889 g of A, 397.247 mL
    ["100 : 45 by weight, B is short", hard(), 500_000, 200_000, 597_246],
    // by hand: 100 mL of A are 113 g, for 50.85 g of B, 50.346 mL
    ["100 : 45 by weight, A is short", hard(), 100_000, 200_000, 150_346],
    ["nothing of one", own, 0, 250_000, 0],
  ])("%s", (_what, of, a, b, mixed) => {
    expect(mixedFrom(of, a, b)).toBe(mixed)
  })

  test("and how much goes with 1 of a part", () => {
    expect(mixedPerPart(system({ ratioA: 2 }), "A")).toBe(1.5)
    expect(mixedPerPart(system({ ratioA: 2 }), "B")).toBe(3)
    // counted by weight: 1 mg of A of 1.15 g/mL is 0.8696 µL, with as much of B
    const weighed = system({ partA: supply(1, { baseUnit: "mg", densityMgPerMl: 1150 }) })
    expect(mixedPerPart(weighed, "A")).toBeCloseTo(2 / 1.15, 9)
  })
})

describe("in a studio", () => {
  let studio: TestStudio
  let here: ReturnType<typeof planningStudio>
  let slow: ReturnType<typeof otherResin>
  beforeEach(() => {
    studio = testStudio({ shippingDays: 2, ...ROOMY })
    here = planningStudio(studio)
    slow = otherResin(studio, here.systemId, {
      recoatEarliestMin: 960,
      recoatLatestMin: 2_880,
      fullCureMin: 7_200,
    })
    keepResinSubstitutes(studio, here.systemId, [slow.systemId])
    stock(studio, here.ids.blank, 20)
    stock(studio, here.ids.lid, 20)
  })
  const choice = () => ({ systemId: here.systemId, substituteId: slow.systemId })
  const back = () => ({ systemId: here.systemId, substituteId: null })
  const started = (cups: number, versionId = here.versionId) =>
    startBatch(studio, someone(), { versionId, cups, note: "" }).answer
  const left = (supplyId: number) =>
    studio.file.firstText<{ n: number }>(
      "SELECT coalesce(sum(amount_left), 0) AS n FROM container WHERE supply_id = ?",
      [supplyId],
    )!.n
  const leftOfAll = () => [here.ids.partA, here.ids.partB, slow.partA, slow.partB].map(left)
  const resinOf = (batchId: number) =>
    batchProgress(studio, batchId)
      .plan.layers[0]!.uses.filter(isResin)
      .map((use) => use.system.id)
  /** Two coats of resin, one over the other. */
  const twoCoats = () => {
    const { input } = versionOf(studio, here.versionId)
    const coat = { ...input.layers[0]!, turnerMin: 0 }
    const layers = [
      { ...coat, name: "First coat" },
      { ...coat, name: "Second coat" },
      ...input.layers.slice(1),
    ]
    return addDesign(studio, { name: "Two coats", version: { ...input, layers } }).versionId
  }

  test.each([
    ["itself", () => [here.systemId], /another resin/],
    ["one that is not there", () => [999], /another resin/],
    ["the same twice", () => [slow.systemId, slow.systemId], /there twice/],
    [
      "more than eight",
      () =>
        Array.from({ length: 9 }, (_, n) => {
          const { partA: _a, partB: _b, ...of } = resinSystemById(studio, slow.systemId)
          return addResinSystem(studio, {
            ...of,
            name: `Resin ${n}`,
            partASupplyId: slow.partA,
            partBSupplyId: slow.partB,
          })
        }),
      /at most 8/,
    ],
  ])("what may be used in its place is not %s", (_what, ids, sentence) => {
    expect(() => keepResinSubstitutes(studio, here.systemId, ids())).toThrow(sentence)
    expect(resinSubstitutes(studio).get(here.systemId)).toEqual([slow.systemId])
  })

  test("an undone resin does not leave a substitute behind that is not there", () => {
    const added = act(studio, "set up", someone(), {}, (now) => {
      const { partA: _a, partB: _b, ...of } = resinSystemById(studio, slow.systemId)
      const parts = { partASupplyId: slow.partA, partBSupplyId: slow.partB }
      const answer = made(now, "resin-system", () =>
        addResinSystem(studio, { ...of, ...parts, name: "Third" }),
      )
      return { summary: "Third is added", answer }
    })
    const allowed = act(studio, "set up", someone(), {}, (now) => {
      changed(now, "resin-system", here.systemId, () =>
        keepResinSubstitutes(studio, here.systemId, [added.answer]),
      )
      return { summary: "Clear is changed", answer: 0 }
    })
    expect(() => reverse(studio, someone(), added.actionId)).toThrow(/Undo first: “Clear is changed”/)
    reverse(studio, someone(), allowed.actionId)
    expect(resinSubstitutes(studio).get(here.systemId)).toEqual([slow.systemId])
    reverse(studio, someone(), added.actionId)
  })

  test("a forecast offers it with what could be mixed of it, and takes none of it", () => {
    started(10)
    // 10 cups take 100 mL of A and as much of B; 60 mL of each make 6
    stock(studio, here.ids.partA, 60_000)
    stock(studio, here.ids.partB, 60_000)
    // 3 : 1: 90 mL of A go with 30 of the 50 mL of B
    stock(studio, slow.partA, 90_000)
    stock(studio, slow.partB, 50_000)
    const { shortfalls, needs } = forecast(studio)
    expect(needs.filter(({ supplyId }) => supplyId === slow.partA)).toEqual([])
    expect(shortfalls.map(({ supplyId, missing }) => [supplyId, missing])).toEqual([
      [here.ids.partA, 40_000],
      [here.ids.partB, 40_000],
    ])
    for (const short of shortfalls)
      expect(short.substitutes).toEqual([
        // 40 mL of one part are 80 mL mixed
        { supplyId: null, supply: "Slow Clear, mixed", baseUnit: "uL", ratioPpm: 2_000_000, free: 120_000 },
      ])
    const line = { designId: here.designId, quantity: 2, dueOn: "2026-12-30" }
    expect(whatIf(studio, [line]).adds[0]?.substitutes).toMatchObject([{ free: 120_000 }])
  })

  test("nothing of it is offered of which a part is not there, held, goes off before, or is needed elsewhere", () => {
    started(10)
    const offered = () =>
      forecast(studio).shortfalls.find(({ supplyId }) => supplyId === here.ids.partA)?.substitutes
    stock(studio, slow.partA, 90_000)
    expect(offered()).toEqual([])
    stock(studio, slow.partB, 30_000, "2026-11-30")
    expect(offered()).toEqual([])
    stock(studio, slow.partB, 30_000)
    expect(offered()).toMatchObject([{ free: 120_000 }])
    // 2 cups take 30 mL of its A and 10 mL of its B: 60 and 20 are left
    const { batchId } = started(2)
    takeInsteadOf(studio, someone(), { batchId, choice: choice() })
    expect(offered()).toMatchObject([{ free: 80_000 }])
    studio.file.runText("UPDATE container SET held = 1 WHERE supply_id = ?", [slow.partA])
    expect(offered()).toEqual([])
  })

  test("what stands in and runs short itself has the design's own as an offer", () => {
    const { batchId } = started(3)
    takeInsteadOf(studio, someone(), { batchId, choice: choice() })
    stock(studio, here.ids.partA, 50_000)
    stock(studio, here.ids.partB, 50_000)
    expect(forecast(studio).shortfalls.map((short) => [short.supplyId, short.substitutes])).toMatchObject([
      [slow.partA, [{ supply: "Clear, mixed", free: 100_000 }]],
      [slow.partB, [{ supply: "Clear, mixed", free: 100_000 }]],
    ])
  })

  test("chosen for a batch, it is what the batch takes; other batches take their own; an undo gives it back", () => {
    for (const id of [here.ids.partA, here.ids.partB, slow.partA, slow.partB]) stock(studio, id, 100_000)
    const { batchId } = started(4)
    const chosen = takeInsteadOf(studio, someone(), { batchId, choice: choice() })
    expect(chosen.summary).toBe(`Batch ${batchId} takes Slow Clear in place of Clear`)
    const other = started(2).batchId
    const done = finishBatch(studio, someone(), { batchId, exceptions: [] })
    finishBatch(studio, someone(), { batchId: other, exceptions: [] })
    // by hand: 4 × 20 mL at 3 : 1 are 60 and 20 mL; 2 × 20 mL at 1 : 1 are 20 and 20 mL
    expect(leftOfAll()).toEqual([80_000, 80_000, 40_000, 80_000])
    expect(verify(studio.file)).toEqual([])
    const told = historyOf(studio, "batch", batchId, 1).entries.map(({ summary }) => summary)
    expect(told).toContain(chosen.summary)
    reverse(studio, someone(), done.actionId)
    expect(leftOfAll()).toEqual([80_000, 80_000, 100_000, 100_000])
    reverse(studio, someone(), chosen.actionId)
    expect(resinOf(batchId)).toEqual([here.systemId])
  })

  test("its own can be taken again, and an undo of that takes the other again", () => {
    const { batchId } = started(2)
    takeInsteadOf(studio, someone(), { batchId, choice: choice() })
    const again = takeInsteadOf(studio, someone(), { batchId, choice: back() })
    expect(again.summary).toBe(`Batch ${batchId} takes Clear again`)
    expect(resinOf(batchId)).toEqual([here.systemId])
    reverse(studio, someone(), again.actionId)
    expect(resinOf(batchId)).toEqual([slow.systemId])
  })

  test("layers that are on stay as they were, also in when the next coat may go on", () => {
    for (const id of [here.ids.partA, here.ids.partB, slow.partA, slow.partB]) stock(studio, id, 200_000)
    const { batchId, cups } = started(3, twoCoats())
    const now = () => studio.now().toString()
    coatLayer(studio, someone(), { batchId, position: 1 })
    takeInsteadOf(studio, someone(), { batchId, choice: choice() })
    // Clear, 480 minutes, is on them; Slow Clear with 960 comes
    const first = batchProgress(studio, batchId)
    expect(first.cups.map(({ recoat }) => recoat)).toEqual(
      cups.map(() => ({ earliestMin: 480, latestMin: null })),
    )
    expect(recoatOf(first, first.cups, now())).toMatchObject({ earliestMin: 480, latestAt: null })
    expect(openWork(studio).loose[0]?.cups).toMatchObject([
      { layersDone: 1, coated: { recoat: { earliestMin: 480, latestMin: null } } },
    ])
    coatLayer(studio, someone(), { batchId, position: 2 })
    const second = batchProgress(studio, batchId)
    expect(second.cups[0]?.recoat).toEqual({ earliestMin: 960, latestMin: 2_880 })
    // back to its own, Slow Clear stays on them
    takeInsteadOf(studio, someone(), { batchId, choice: back() })
    expect(batchProgress(studio, batchId).cups[0]?.recoat).toEqual({ earliestMin: 960, latestMin: 2_880 })
    expect(openWork(studio).loose[0]?.cups).toMatchObject([
      { layersDone: 2, coated: { recoat: { earliestMin: 960, latestMin: 2_880 } } },
    ])
    const mixes = (position: number) =>
      coatsOf(studio, batchId, position).flatMap(({ mix }) => mix?.system.id ?? [])
    expect([mixes(1), mixes(2)]).toEqual([[here.systemId], [slow.systemId]])
    expect(verify(studio.file)).toEqual([])
  })

  test("cups that were coated otherwise each keep their own window", () => {
    for (const id of [here.ids.partA, here.ids.partB, slow.partA, slow.partB]) stock(studio, id, 200_000)
    const { batchId, cups } = started(4, twoCoats())
    coatLayer(studio, someone(), { batchId, position: 1, cupIds: cups.slice(0, 2).map(({ id }) => id) })
    takeInsteadOf(studio, someone(), { batchId, choice: choice() })
    coatLayer(studio, someone(), { batchId, position: 1, cupIds: cups.slice(2).map(({ id }) => id) })
    const batch = batchProgress(studio, batchId)
    expect(batch.cups.map(({ recoat }) => recoat?.earliestMin)).toEqual([480, 480, 960, 960])
    // together they wait for the slower, and none goes past the limit of those that have one
    expect(recoatOf(batch, batch.cups, studio.now().toString())).toMatchObject({
      earliestMin: 960,
      latestAt: studio.now().add({ minutes: 2_880 }).toString(),
    })
  })

  test("cups that go on apart take it along", () => {
    const { batchId, cups } = started(3)
    takeInsteadOf(studio, someone(), { batchId, choice: choice() })
    const apart = splitBatch(studio, someone(), { batchId, cupIds: [cups[0]!.id] }).answer.batchId
    expect(resinOf(apart)).toEqual([slow.systemId])
  })

  test("what cannot be worked out with it is said, and nothing is changed", () => {
    const byWeight = otherResin(studio, here.systemId, { name: "Heavy", ratioBasis: "mass" })
    keepResinSubstitutes(studio, here.systemId, [byWeight.systemId])
    changeSupply(studio, byWeight.partA, { ...supplyById(studio, byWeight.partA), densityMgPerMl: null })
    const { batchId } = started(2)
    const before = studio.file.firstText("SELECT count(*) AS n FROM action")
    const heavy = { systemId: here.systemId, substituteId: byWeight.systemId }
    const sentence = "Heavy is mixed by weight, so the density of Heavy A is needed; its data sheet has it."
    expect(() => takeInsteadOf(studio, someone(), { batchId, choice: heavy })).toThrow(sentence)
    expect(() =>
      finishBatch(studio, someone(), { batchId, exceptions: [], say: { insteadOf: [heavy] } }),
    ).toThrow(sentence)
    expect(studio.file.firstText("SELECT count(*) AS n FROM action")).toEqual(before)
    expect(resinOf(batchId)).toEqual([here.systemId])
  })

  test("what nobody allowed, or the design does not mix, is not taken", () => {
    const { batchId } = started(1)
    const taking = (systemId: number, substituteId: number) => () =>
      takeInsteadOf(studio, someone(), { batchId, choice: { systemId, substituteId } })
    expect(taking(slow.systemId, here.systemId)).toThrow("That resin is not in this design.")
    keepResinSubstitutes(studio, here.systemId, [])
    expect(taking(here.systemId, slow.systemId)).toThrow(
      "That may not be used in place of Clear. Say so on the resin system's page under Set up, or choose another.",
    )
  })

  test("chosen while a coat is ticked off, what was said and poured of the other's bottles says nothing any more", () => {
    stock(studio, here.ids.partA, 1_000)
    stock(studio, slow.partA, 100_000)
    stock(studio, slow.partB, 100_000)
    const { batchId } = started(2)
    const bottle = studio.file.firstText<{ id: number }>("SELECT id FROM container WHERE supply_id = ?", [
      here.ids.partA,
    ])!.id
    const poured = [{ use: 0, nth: 0, parts: { a: 21_000, b: 20_000 }, leftUl: null }]
    coatLayer(studio, someone(), {
      batchId,
      position: 1,
      measured: { poured, weighed: [], asPoured: false },
      say: { insteadOf: [choice()], heldMore: [{ containerId: bottle, amount: 100 }] },
    })
    expect(leftOfAll()).toEqual([1_000, 0, 70_000, 90_000])
  })

  test("measured afterwards, it is judged by its own ratio, and learned from as what it is", () => {
    stock(studio, slow.partA, 100_000)
    stock(studio, slow.partB, 100_000)
    const { batchId } = started(2)
    takeInsteadOf(studio, someone(), { batchId, choice: choice() })
    coatLayer(studio, someone(), { batchId, position: 1 })
    takeInsteadOf(studio, someone(), { batchId, choice: back() })
    const { coatId } = coatsOf(studio, batchId, 1).find(({ mix }) => mix !== null)!
    // 33 : 11 is 3 : 1
    const poured = [{ coatId, parts: { a: 33_000, b: 11_000 }, leftUl: null }]
    const done = measureCoats(studio, someone(), {
      batchId,
      position: 1,
      poured,
      weighed: [],
      asPoured: false,
      heldMore: false,
    })
    expect(done.answer.remarks).toEqual([])
    expect(leftOfAll().slice(2)).toEqual([67_000, 89_000])
    expect(learned(studio)).toMatchObject([{ what: "resin", id: slow.systemId }])
  })
})
