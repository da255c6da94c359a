import { describe, expect, test } from "vitest"
import type { Hazard } from "../../server/domain/hazards.ts"
import { layerNeed } from "../../server/domain/layers.ts"
import { layerCard, mixCard } from "../../server/domain/mix-card.ts"
import { scaleReadings } from "../../server/domain/scale-readings.ts"
import { fine, layer, plan, resinUse, supply, supplyUse, system } from "./plan-fixtures.ts"

const glitter = supply(21, { name: "Fine silver", kind: "glitter", baseUnit: "mg" })
const pigment = supply(22, { name: "Deep blue", kind: "pigment", baseUnit: "uL", densityMgPerMl: 1200 })
const mixingCup = supply(23, { name: "Mixing cups", kind: "consumable", baseUnit: "each" })
const paint = supply(24, { name: "White primer", kind: "paint", baseUnit: "mg" })
const wipes = supply(25, { name: "Wipes", kind: "consumable", baseUnit: "each" })

const sprayed = layer(
  1,
  [supplyUse({ supply: paint, amount: 9_000 }), supplyUse({ supply: wipes, amount: 2 })],
  {
    kind: "spray",
    name: "White base",
    handsOnMin: 15,
    turnerMin: 0,
    recoatEarliestMin: 60,
  },
)
const sealed = layer(
  2,
  [
    resinUse(),
    supplyUse({ how: "per-resin", supply: glitter, amount: 100_000 }),
    supplyUse({ how: "per-mix", supply: pigment, amount: 500 }),
    supplyUse({ how: "per-mix", supply: mixingCup, amount: 1 }),
  ],
  { name: "Glitter coat", recoatEarliestMin: 240, recoatLatestMin: 2_000 },
)
const packed = layer(3, [], { kind: "counted", name: "Box", handsOnMin: 5, turnerMin: 0 })
const made = plan([packed, sealed, sprayed])
const noHazards = { hazards: new Map<number, readonly Hazard[]>() }
const cardOf = (cups: number, measures: Parameters<typeof mixCard>[2] = fine, facts = noHazards) =>
  mixCard(made, cups, measures, facts)
const mixesOf = (cups: number, measures = fine) => cardOf(cups, measures).layers[1]!.mixes

describe("the card", () => {
  test("goes layer by layer as they are put on, for the cups, the blank and the room", () => {
    const card = cardOf(6)
    expect(card).toMatchObject({ designName: "Sea glass", blank: "Slim 30", cups: 6, roomCelsius: 23 })
    expect(card.layers.map(({ name }) => name)).toEqual(["White base", "Glitter coat", "Box"])
    expect(mixCard(made, 1, { ...fine, roomCelsius: 27 }, noHazards).roomCelsius).toBe(27)
  })

  test("six cups at four a mix are two mixes of three, and each says which cups it serves", () => {
    expect(mixesOf(6).map(({ label, cups }) => [label, cups])).toEqual([
      ["Mix 1 of 2", { count: 3, from: 1, to: 3 }],
      ["Mix 2 of 2", { count: 3, from: 4, to: 6 }],
    ])
  })

  test("two resins in one layer each go round all the cups", () => {
    const other = system({ id: 2, name: "Fast resin", partA: supply(11), partB: supply(12) })
    const both = layer(1, [resinUse(), resinUse({ system: other })])
    const { mixes } = mixCard(plan([both]), 6, fine, noHazards).layers[0]!
    expect(mixes.map(({ label, system, cups }) => [label, system.name, cups.from, cups.to])).toEqual([
      ["Mix 1 of 4", "Clear resin", 1, 3],
      ["Mix 2 of 4", "Clear resin", 4, 6],
      ["Mix 3 of 4", "Fast resin", 1, 3],
      ["Mix 4 of 4", "Fast resin", 4, 6],
    ])
  })

  test("A and B are said the maker's way, and the other way when both densities are known", () => {
    const [mix] = mixesOf(1)
    expect(mix!.parts.map(({ part, supply, measured, also }) => [part, supply, measured, also])).toEqual([
      ["A", "Clear resin A", { amount: 12_500, baseUnit: "uL" }, { amount: 14_375, baseUnit: "mg" }],
      ["B", "Clear resin B", { amount: 12_500, baseUnit: "uL" }, { amount: 12_125, baseUnit: "mg" }],
    ])
  })

  test("glitter and pigment are stirred in; the mixing cup is only taken along", () => {
    const [mix] = mixesOf(1)
    expect(mix!.stirredIn.map(({ supply, amount }) => [supply, amount])).toEqual([
      ["Fine silver", 2_500], // 100 g a litre
      ["Deep blue", 500],
    ])
    expect(mix!.items.map(({ supply, amount }) => [supply, amount])).toEqual([["Mixing cups", 1]])
  })

  test("sprays, wipes and blanks stand with the layer", () => {
    const [spray] = cardOf(6).layers
    expect(spray!.mixes).toEqual([])
    expect(spray!.items.map(({ supply, amount, baseUnit }) => [supply, amount, baseUnit])).toEqual([
      ["Slim 30", 6, "each"],
      ["White primer", 54_000, "mg"],
      ["Wipes", 12, "each"],
    ])
  })

  test("each amount says why it is so much", () => {
    const { layers } = cardOf(6)
    const [mix] = layers[1]!.mixes
    for (const item of [...layers[0]!.items, ...mix!.parts, ...mix!.stirredIn, ...mix!.items]) {
      expect(item.working.result).toEqual({ value: item.amount, unit: item.baseUnit })
    }
  })

  test("the clock of each mix: minutes to stir, how long it lasts, how long its cups take", () => {
    expect(mixesOf(4)[0]).toMatchObject({ mixingMin: 5, potLifeMin: 45, workMin: 40, warning: null })
    expect(mixesOf(4)[0]!.potLife.result).toEqual({ value: 45, unit: "min" })
    // half as long ten degrees warmer, so one cup a mix
    const warm = cardOf(4, { ...fine, roomCelsius: 33 }).layers[1]!.mixes
    expect(warm.map((mix) => [mix.cups.count, mix.potLifeMin, mix.workMin])).toEqual(
      Array.from({ length: 4 }, () => [1, 22, 10]),
    )
  })

  test("a mix that is hard to measure is marked on the card", () => {
    const [mix] = mixesOf(1, { ...fine, volumeStepUl: 2_500 })
    expect(mix).toMatchObject({ flag: "small", warning: expect.stringMatching(/hard to measure well/) })
  })

  test("a layer done by what is left of a batch is carded from the very need it is taken by", () => {
    const need = layerNeed(made, sealed, 2, fine)
    const card = layerCard(made, sealed, need, 2, fine, noHazards)
    expect(card.mixes[0]!.parts.map(({ amount }) => amount)).toEqual([
      need.mixes[0]!.partA,
      need.mixes[0]!.partB,
    ])
  })
})

describe("on the scale", () => {
  const readings = (cups: number, measures = fine) =>
    mixesOf(cups, measures)[0]!.scale?.map(({ added, readsMg }) => [added, readsMg])

  test("one cup on the scale: zero, after A, after B, after glitter and pigment", () => {
    expect(readings(1)).toEqual([
      [null, 0],
      ["Clear resin A", 14_400], // 14.375 g to a tenth
      ["Clear resin B", 26_500], // and 12.125
      ["Fine silver", 29_000],
      ["Deep blue", 29_600], // 0.5 mL at 1.2 g/mL
    ])
  })

  test("a resin mixed by mass reads exactly what is weighed", () => {
    const use = resinUse({ system: system({ ratioBasis: "mass", ratioA: 100, ratioB: 84 }) })
    const [mix] = mixCard(plan([layer(1, [use])]), 1, fine, noHazards).layers[0]!.mixes
    const [a, b] = mix!.parts.map(({ measured }) => measured.amount)
    expect(mix!.scale!.map(({ readsMg }) => readsMg)).toEqual([0, a, a! + b!])
  })

  test("no readings where a density is missing or the scale is too coarse to keep the ratio", () => {
    const partB = supply(2, { densityMgPerMl: null })
    const bare = plan([layer(1, [resinUse({ system: system({ partB }) })])])
    expect(mixCard(bare, 1, fine, noHazards).layers[0]!.mixes[0]!.scale).toBeNull()
    // 14.375 and 12.125 g in whole grams are 14 : 12, 1.6 % off; in fives they are 15 : 10
    expect(readings(1, { ...fine, massStepMg: 1_000 })).toBeDefined()
    expect(readings(1, { ...fine, massStepMg: 5_000 })).toBeUndefined()
    expect(readings(1, { ...fine, massStepMg: 50_000 })).toBeUndefined()
  })

  test("readings end before a thing whose weight is not known", () => {
    const [mix] = layerNeed(made, sealed, 1, fine).mixes
    const ofUnknown = { ...pigment, densityMgPerMl: null }
    const list = scaleReadings(
      mix!,
      [
        { supply: glitter, amount: 2_500 },
        { supply: ofUnknown, amount: 500 },
        { supply: glitter, amount: 1 },
      ],
      100,
    )
    expect(list!.map(({ added }) => added)).toEqual([null, "Clear resin A", "Clear resin B", "Fine silver"])
  })
})

describe("the next layer", () => {
  test("its window is the narrowest of the layer's and the resin's, and not before it leaves the turner", () => {
    // the layer says 240 to 2 000 minutes, the resin 480 to 1 440, the turner 480
    expect(cardOf(6).layers[1]!.next).toEqual({
      kind: "next layer",
      position: 3,
      name: "Box",
      earliestMin: 480,
      latestMin: 1_440,
      earliestAt: null,
      latestAt: null,
    })
    expect(cardOf(6).layers[0]!.next).toMatchObject({
      name: "Glitter coat",
      earliestMin: 60,
      latestMin: null,
    })
  })

  test("after the last layer it is the full cure", () => {
    expect(cardOf(6).layers[2]!.next).toEqual({ kind: "full cure", minutes: 4_320, at: null })
  })

  test("once a layer is begun: earliest after its last cup, latest after its first", () => {
    const times = new Map([[2, { startedAt: "2026-11-25T08:00:00Z" }]])
    const { next } = mixCard(made, 6, fine, { ...noHazards, times }).layers[1]!
    // two mixes of 5 + 30 minutes one after the other: done at 09:10
    expect(next).toMatchObject({ earliestAt: "2026-11-25T17:10:00Z", latestAt: "2026-11-26T08:00:00Z" })
  })

  test("once it is done, what it really took counts", () => {
    const times = new Map([
      [2, { startedAt: "2026-11-25T08:00:00Z", doneAt: "2026-11-25T10:00:00+01:00" }],
      [3, { startedAt: "2026-11-26T08:00:00Z", doneAt: "2026-11-26T08:10:00Z" }],
    ])
    const { layers } = mixCard(made, 6, fine, { ...noHazards, times })
    expect(layers[1]!.next).toMatchObject({ earliestAt: "2026-11-25T17:00:00Z" })
    expect(layers[2]!.next).toMatchObject({ at: "2026-11-29T08:10:00Z" })
  })
})

describe("cautions", () => {
  const hazards = new Map<number, readonly Hazard[]>([
    [1, ["skin-sensitiser"]],
    [2, ["skin-corrosive"]],
    [21, ["fine-dust"]],
    [24, ["aerosol"]],
    [99, ["flammable-liquid"]],
  ])
  const { layers } = mixCard(made, 6, fine, { hazards })
  const [spray, coat] = layers.map(({ cautions, mixes }) =>
    [...cautions, ...mixes.flatMap((mix) => mix.cautions)].join(" "),
  )

  test("of a mix are for exactly what goes into it", () => {
    expect(coat).toMatch(/burns skin and eyes/)
    expect(coat).toMatch(/allergy that stays for life/)
    expect(coat).toMatch(/Fine dust/)
    expect(coat).not.toMatch(/pierce|catch fire/)
  })

  test("of the other things are for exactly those", () => {
    expect(spray).toMatch(/never pierce it/)
    expect(spray).not.toMatch(/burns|Fine dust|catch fire/)
  })

  test("a big mix warns of its own heat, a small one does not", () => {
    const quick = layer(1, [resinUse({ system: system({ cupWorkMin: 5, largestMixUl: 200_000 }) })])
    const cautions = (cups: number) =>
      mixCard(plan([quick]), cups, fine, noHazards).layers[0]!.mixes[0]!.cautions.join(" ")
    expect(cautions(5)).toMatch(/heats up by itself/) // 119 mL
    expect(cautions(3)).not.toMatch(/heats up by itself/)
  })

  test("always defer to the safety data sheet, and are not said twice where all of a layer is mixed", () => {
    for (const { cautions, mixes } of layers) {
      for (const said of [cautions, ...mixes.map((mix) => mix.cautions)]) {
        if (said.length > 0) expect(said.at(-1)).toMatch(/safety data sheet/)
      }
    }
    expect(layers[1]!.cautions).toEqual([])
    expect(spray).toMatch(/safety data sheet/)
  })
})
