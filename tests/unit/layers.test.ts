import { describe, expect, test } from "vitest"
import { layerNeed, needTotals, planNeed } from "../../server/domain/layers.ts"
import type { AmountUse, Layer, LayerNeed, Use } from "../../server/domain/plan.ts"
import { coatedAreaMm2 } from "../../server/domain/profile.ts"
import { Refusal } from "../../server/domain/refusal.ts"
import { wantsOf } from "../../server/domain/wants.ts"
import {
  fine,
  layer,
  pieceUse,
  plan,
  resinUse,
  slim30,
  sprayUse,
  supply,
  supplyUse,
  system,
} from "./plan-fixtures.ts"

/** A layer that is not the first, so that no blanks come with it. */
const needOf = (uses: Use[], cups: number): LayerNeed => {
  const second = layer(2, uses)
  return layerNeed(plan([layer(1), second]), second, cups, fine)
}
const amounts = (need: LayerNeed) => need.draws.map(({ supplyId, amount, mix }) => [supplyId, amount, mix])
const oneAmount = (over: Partial<AmountUse>, cups: number) => needOf([supplyUse(over)], cups).draws[0]?.amount

describe("the blank", () => {
  test("is taken with the first layer, one a cup, whatever order the layers are listed in", () => {
    const [first, second] = [layer(1), layer(2)]
    const made = plan([second, first])
    expect(amounts(layerNeed(made, first, 6, fine))).toEqual([[9, 6, null]])
    expect(amounts(layerNeed(made, second, 6, fine))).toEqual([])
  })

  test("that is no cup is refused before anything is taken", () => {
    const broken = plan([layer(1)], { blank: { ...slim30, rings: slim30.rings.slice(1) } })
    expect(() => layerNeed(broken, broken.layers[0]!, 1, fine)).toThrow(Refusal)
  })
})

describe("mixed resin", () => {
  test("is A and B of each mix: six cups at four a mix are two mixes of three", () => {
    // 3 × 23.5 + 1.5 = 72 mL, 36 each
    const need = needOf([resinUse()], 6)
    expect(need.mixes.map((mix) => mix.cups)).toEqual([3, 3])
    expect(need.system?.name).toBe("Clear resin")
    expect(amounts(need)).toEqual([
      [1, 36_000, 0],
      [2, 36_000, 0],
      [1, 36_000, 1],
      [2, 36_000, 1],
    ])
  })

  test("of two kinds in one layer: the mixes are numbered through", () => {
    const other = system({ id: 2, name: "Fast resin", partA: supply(11), partB: supply(12) })
    const need = needOf([resinUse(), supplyUse({ how: "per-mix" }), resinUse({ system: other })], 1)
    expect(need.mixes.map((mix) => mix.system.name)).toEqual(["Clear resin", "Fast resin"])
    expect(amounts(need)).toEqual([
      [1, 12_500, 0],
      [2, 12_500, 0],
      [3, 1, 0],
      [3, 1, 1],
      [11, 12_500, 1],
      [12, 12_500, 1],
    ])
  })

  test("part B wants the kit of its own mix's part A, and a whole coat is one cup's part", () => {
    const need = needOf([resinUse()], 6)
    expect(wantsOf(need, 6)).toEqual([
      { supplyId: 1, amount: 36_000, wholeCoat: 12_000 },
      { supplyId: 2, amount: 36_000, wholeCoat: 12_000, pairWith: 0 },
      { supplyId: 1, amount: 36_000, wholeCoat: 12_000 },
      { supplyId: 2, amount: 36_000, wholeCoat: 12_000, pairWith: 2 },
    ])
  })
})

describe("everything else", () => {
  test("an amount a cup is simply times cups", () => {
    expect(oneAmount({ amount: 1_300 }, 7)).toBe(9_100)
  })

  test("a share of a sprayed surface is that share of the amount, rounded once for all cups", () => {
    // 3 × 1 mg × 33.3333 %: each cup alone would round to nothing
    expect(oneAmount({ amount: 1, sharePpm: 333_333 }, 3)).toBe(1)
    expect(oneAmount({ amount: 8_000, sharePpm: 250_000 }, 5)).toBe(10_000)
  })

  test("an amount a square metre goes by the coated area", () => {
    const m2 = coatedAreaMm2(slim30) / 1e6
    expect(oneAmount({ how: "per-area", amount: 200_000 }, 10)).toBe(Math.round(200_000 * m2 * 10))
    expect(oneAmount({ how: "per-area", amount: 200_000, sharePpm: 500_000 }, 10)).toBe(
      Math.round(100_000 * m2 * 10),
    )
  })

  test("a piece takes its width times its height", () => {
    const piece = pieceUse({ cut: { shape: "flat", widthUm: 90_500, heightUm: 60_000 } })
    expect(needOf([piece], 4).draws[0]?.amount).toBe(4 * 90.5 * 60)
  })

  test("a piece of what is not counted by area or length, or without its size, is refused", () => {
    const glue = pieceUse({ supply: supply(3, { name: "Glue", baseUnit: "uL" }) })
    expect(() => needOf([glue], 1)).toThrow(/Glue is not counted by area or length/)
    expect(() => needOf([pieceUse({ cut: { shape: "flat", widthUm: 10_000, heightUm: 0 } })], 1)).toThrow(
      /how wide and how high the piece of Sheet/,
    )
    const roll = supply(3, { name: "Roll", baseUnit: "um" })
    expect(() => needOf([pieceUse({ supply: roll })], 1)).toThrow(/how wide the roll of Roll is/)
  })

  test("whole pieces are taken: half a glove a cup for three cups is two gloves", () => {
    const gloves = supply(3, { baseUnit: "each" })
    expect(oneAmount({ supply: gloves, amount: 1, sharePpm: 500_000 }, 3)).toBe(2)
    expect(oneAmount({ supply: gloves, amount: 1, sharePpm: 500_000 }, 4)).toBe(2)
  })

  test("once a batch is left out when the batch has had the layer before; once a session is not", () => {
    const uses = [supplyUse({ how: "per-batch", amount: 2 }), supplyUse({ how: "per-session", amount: 3 })]
    const second = layer(2, uses)
    const made = plan([layer(1), second])
    const go = (again: boolean) => amounts(layerNeed(made, second, 4, fine, { again }))
    expect(go(false)).toEqual([
      [3, 2, null],
      [3, 3, null],
    ])
    expect(go(true)).toEqual([[3, 3, null]])
  })

  test("a band takes only what lies on it: a film and an amount a square metre by the band's area", () => {
    const straight = {
      ...slim30,
      rings: [
        { heightUm: 0, diameterUm: 80_000 },
        { heightUm: 200_000, diameterUm: 80_000 },
      ],
    }
    const uses = [
      supplyUse({ how: "per-area", amount: 1_000_000 }),
      resinUse({ how: "resin-film", amount: 300 }),
    ]
    const taken = (band: Layer["band"]) => {
      const second = layer(2, uses, { band })
      return layerNeed(plan([layer(1), second], { blank: straight }), second, 1, {
        volumeStepUl: 1,
        massStepMg: 1,
      })
    }
    const third = taken({ fromUm: 0, toUm: 63_000 })
    // π d h: 80 mm wide, from 3 mm (bare below) to 63 mm
    const mm2 = Math.PI * 80 * 60
    expect(third.draws[0]!.amount).toBe(Math.round(mm2))
    // 0.3 mm, a quarter of what is poured dripping off, and 1.5 mL staying in the cup
    expect(third.mixes[0]!.mixedUl).toBeCloseTo((mm2 * 0.3) / 0.75 + 1_500, -1)
    expect(third.draws[0]!.working.inputs.map(({ name, from }) => [name, from])).toContainEqual([
      "area of the band",
      "worked out",
    ])
    expect(() => taken({ fromUm: 0, toUm: 2_000 })).toThrow(/where the cup stays bare/)
  })

  test("a sprayed film goes by area, passes, solids, and what lands on the cup", () => {
    // area × 2 × 12 µm ÷ 20 % ÷ 30 %: worked out by hand from the films themselves, without a spreading rate
    const ul = (coatedAreaMm2(slim30) * 2 * 0.012) / 0.2 / 0.3
    expect(needOf([sprayUse()], 5).draws[0]!.amount).toBe(Math.round(5 * ul))
    const byWeight = sprayUse({ supply: supply(6, { baseUnit: "mg", densityMgPerMl: 900 }) })
    expect(needOf([byWeight], 5).draws[0]!.amount).toBe(Math.round(5 * ul * 0.9))
    expect(() => needOf([sprayUse({ supply: supply(6, { name: "Blue", baseUnit: "mg" }) })], 1)).toThrow(
      /Blue is weighed: its density is needed/,
    )
  })

  test("what is sprinkled counts what stays on, by the area", () => {
    const m2 = coatedAreaMm2(slim30) / 1e6
    expect(oneAmount({ how: "sprinkled", amount: 250_000, sharePpm: 500_000 }, 4)).toBe(
      Math.round(4 * m2 * 125_000),
    )
  })

  test("pieces off sheets take whole sheets and a strip, and name the offcut that stays", () => {
    const sheet = supply(5, { baseUnit: "mm2", sheet: { widthUm: 300_000, heightUm: 300_000 } })
    const use = pieceUse({ supply: sheet, cut: { shape: "flat", widthUm: 100_000, heightUm: 100_000 } })
    const draws = (cups: number) => needOf([use], cups).draws[0]!
    expect(draws(9)).toMatchObject({ amount: 90_000, offcut: null })
    expect(draws(10)).toMatchObject({
      amount: 120_000,
      offcut: { widthUm: 300_000, heightUm: 200_000, areaMm2: 60_000 },
    })
    // a strip too short for another piece is used up
    expect(
      needOf([{ ...use, cut: { shape: "flat", widthUm: 100_000, heightUm: 160_000 }, mayTurn: false }], 3)
        .draws[0],
    ).toMatchObject({ amount: 90_000, offcut: null })
  })

  test("a wrap is as high as the layer's band and once around it, its ends overlapping", () => {
    const straight = {
      ...slim30,
      rings: [
        { heightUm: 0, diameterUm: 80_000 },
        { heightUm: 200_000, diameterUm: 80_000 },
      ],
    }
    const use = pieceUse({ cut: { shape: "wrap", overlapUm: 3_000 } })
    const second = layer(2, [use], { band: { fromUm: 50_000, toUm: 90_000 } })
    const need = layerNeed(plan([layer(1), second], { blank: straight }), second, 1, fine)
    expect(need.draws[0]!.amount).toBeCloseTo((Math.PI * 80 + 3) * 40, -1)
    const stepped = { ...straight, rings: [...straight.rings, { heightUm: 260_000, diameterUm: 100_000 }] }
    const all = layer(2, [use])
    expect(() => layerNeed(plan([layer(1), all], { blank: stepped }), all, 1, fine)).toThrow(
      /lies flat only on a straight or evenly tapered side/,
    )
  })

  test("once a batch is once, however many cups", () => {
    expect(oneAmount({ how: "per-batch", amount: 2 }, 40)).toBe(2)
  })

  test("what is stirred in goes by the resin in each mix: 20 g a litre in 72 mL is 1.44 g", () => {
    const glitter = supplyUse({ how: "per-resin", supply: supply(3, { baseUnit: "mg" }), amount: 20_000 })
    expect(amounts(needOf([resinUse(), glitter], 6)).slice(4)).toEqual([
      [3, 1_440, 0],
      [3, 1_440, 1],
    ])
  })

  test("what is used up once a mix is taken for each mix, and not at all where nothing is mixed", () => {
    const sticks = supplyUse({ how: "per-mix", supply: supply(3, { baseUnit: "each" }), amount: 2 })
    expect(amounts(needOf([resinUse(), sticks], 9)).slice(6)).toEqual([
      [3, 2, 0],
      [3, 2, 1],
      [3, 2, 2],
    ])
    expect(needOf([sticks], 9).draws).toEqual([])
  })

  test("an amount that comes to nothing is left out", () => {
    expect(needOf([supplyUse({ amount: 0 }), supplyUse({ amount: 1, sharePpm: 100_000 })], 1).draws).toEqual(
      [],
    )
  })

  test("no cups are a programmer's mistake", () => {
    expect(() => needOf([], 0)).toThrow(RangeError)
  })
})

describe("a whole plan", () => {
  const made = plan([
    layer(3, [supplyUse({ amount: 5 })]),
    layer(1, [supplyUse({ amount: 10 })]),
    layer(2, [], { kind: "prep" }),
  ])

  test("gives a need for each layer in order, also for one that takes nothing", () => {
    expect(planNeed(made, 2, fine).map((need) => [need.position, need.draws.length])).toEqual([
      [1, 2],
      [2, 0],
      [3, 1],
    ])
  })

  test("adds up by supply", () => {
    expect(needTotals(planNeed(made, 2, fine))).toEqual(
      new Map([
        [9, 2],
        [3, 30],
      ]),
    )
  })
})
