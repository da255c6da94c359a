import { describe, expect, test } from "vitest"
import type { AmountUse, Plan, PlanSupply, ResinUse } from "../../server/domain/plan.ts"
import { planProblems } from "../../server/domain/plan-problems.ts"
import { fine, layer, pieceUse, plan, resinUse, slim30, supply, supplyUse, system } from "./plan-fixtures.ts"

const said = (made: Plan, measures = fine) =>
  planProblems(made, measures).map(
    ({ severity, layerPosition, sentence }) => `${severity} ${layerPosition}: ${sentence}`,
  )
const ofResin = (over: Partial<ResinUse>, measures = fine) =>
  said(plan([layer(1, [resinUse(over)])]), measures)
const ofSupply = (over: Partial<AmountUse>) => said(plan([layer(1, [supplyUse(over)])]))

test("a sound plan has nothing to say", () => {
  const glitter = supplyUse({ how: "per-resin", amount: 20_000 })
  expect(said(plan([layer(1), layer(2, [resinUse(), glitter])]))).toEqual([])
})

describe("what stops a plan", () => {
  test("no layers", () => {
    expect(said(plan([]))).toEqual([expect.stringMatching(/^stop null: This design has no layers/)])
  })

  test("a blank that is no cup, or bands that leave nothing", () => {
    const all = plan([layer(1)], { blank: { ...slim30, bareLipUm: 240_000 } })
    expect(said(all)).toEqual([expect.stringMatching(/^stop null: .*leave nothing to coat/)])
  })

  test("a coat no larger than what stays in the mixing cup", () => {
    expect(ofResin({ amount: 1_500 })).toEqual([expect.stringMatching(/^stop 1: .*more than what stays/)])
  })

  test("a pot life too short to mix and coat one cup", () => {
    expect(ofResin({ system: system({ potLifeMin: 15 }) })).toEqual([])
    expect(ofResin({ system: system({ potLifeMin: 14 }) })).toEqual([
      expect.stringMatching(/^stop 1: Clear resin thickens after 14 minutes, .* takes 15/),
    ])
  })

  test("measures too coarse for the ratio", () => {
    const uneven = { system: system({ ratioA: 100, ratioB: 3, largestMixUl: 150_000 }) }
    expect(ofResin(uneven, { ...fine, volumeStepUl: 5_000 })).toEqual([
      expect.stringMatching(/^stop 1: .*too coarse to keep Clear resin at 100 : 3.*finer measuring cup/),
    ])
  })

  test("one cup's coat above the largest safe mix", () => {
    expect(ofResin({ system: system({ largestMixUl: 20_000 }) })).toEqual([
      expect.stringMatching(/^stop 1: .*largest safe mix.*heats up/),
    ])
  })

  test("a missing density, said once even if two coats need it", () => {
    const bare = system({ ratioBasis: "mass", partA: supply(1, { name: "Part A" }) })
    const use = resinUse({ system: bare })
    expect(said(plan([layer(1, [use, use])]))).toEqual([
      expect.stringMatching(/^stop 1: .*density of Part A/),
    ])
  })

  test("something stirred in where nothing is mixed", () => {
    for (const how of ["per-resin", "per-mix"] as const) {
      expect(ofSupply({ how })).toEqual([expect.stringMatching(/^stop 1: .*nothing is mixed in “Layer 1”/)])
    }
  })

  test("an amount of nothing", () => {
    for (const how of ["per-cup", "per-area", "per-batch"] as const) {
      expect(ofSupply({ how, amount: 0 })).toEqual([expect.stringMatching(/^stop 1: Say how much Supply 3/)])
    }
    const stirred = supplyUse({ how: "per-resin", amount: 0 })
    expect(said(plan([layer(1, [resinUse(), stirred])]))).toEqual([
      expect.stringMatching(/^stop 1: Say how much/),
    ])
  })

  test("a piece without its size, or larger than its sheet", () => {
    const sized = (widthUm: number, sheet: PlanSupply["sheet"] = null) =>
      said(
        plan([
          layer(1, [
            pieceUse({
              supply: supply(5, { name: "Sheet", baseUnit: "mm2", sheet }),
              cut: { shape: "flat", widthUm, heightUm: 60_000 },
            }),
          ]),
        ]),
      )
    expect(sized(0)).toEqual([expect.stringMatching(/^stop 1: .*how wide/)])
    expect(sized(400_000, { widthUm: 300_000, heightUm: 300_000 })).toEqual([
      expect.stringMatching(/^stop 1: Sheet: The piece is larger than the sheet/),
    ])
  })
})

describe("what is worth a look", () => {
  test("a film above a millimetre (common practice, no source)", () => {
    const film = (amount: number) => ofResin({ how: "resin-film", amount })
    expect(film(1_000)).toEqual([])
    expect(film(1_200)).toEqual([expect.stringMatching(/^warn 1: .*1\.2 mm thick.*heat up/)])
  })

  test("a next coat or a cure sooner than the resin allows", () => {
    const use = resinUse()
    expect(said(plan([layer(1, [use], { recoatEarliestMin: 479 })]))).toEqual([
      expect.stringMatching(/^warn 1: The next coat comes sooner/),
    ])
    expect(said(plan([layer(1, [use])], { fullCureMin: 4_319 }))).toEqual([
      expect.stringMatching(/^warn 1: The full cure is shorter/),
    ])
  })

  test("a mix too small to be measured well", () => {
    // 25 mL at 4:1 is 20 and 5: four 5 mL marks and one
    const coarse = { ...fine, volumeStepUl: 5_000 }
    expect(ofResin({ system: system({ ratioA: 4, ratioB: 1 }) }, coarse)).toEqual([
      expect.stringMatching(/^warn 1: So little Clear resin is hard to measure well/),
    ])
  })

  test("a mix whose ratio is off because a better one would be too large to be safe", () => {
    // 10 : 9 in 5 mL marks: 45 and 40 is 1.25 % off but 85 mL, 35 and 30 is the least within 5 %
    const made = { system: system({ ratioA: 10, ratioB: 9, largestMixUl: 80_000 }) }
    expect(ofResin(made, { ...fine, volumeStepUl: 5_000 })).toEqual([
      expect.stringMatching(/^warn 1: 5\.0 % too much Clear resin A: as near as these measures come/),
    ])
  })

  test("coatings close to the lip (common practice, no source)", () => {
    const blank = { ...slim30, bareLipUm: 9_999 }
    expect(said(plan([layer(1, [resinUse()])], { blank }))).toEqual([
      expect.stringMatching(/^warn null: .*bare below the lip.*safety data sheet/),
    ])
    expect(
      said(plan([layer(1, [supplyUse({ supply: supply(3, { kind: "packaging" }) })])], { blank })),
    ).toEqual([])
  })
})
