import { describe, expect, test } from "vitest"
import { crossSection } from "../../server/designs/cross-section.ts"
import { addDesign, type DesignInput, perCup } from "../../server/designs/service.ts"
import { keepSettings, settingsOf } from "../../server/ledger/studio.ts"
import { addPack, addSeller } from "../../server/supplies/service.ts"
import { receiveOne } from "../support/catalogue.ts"
import { type Fixture, layerInput, plainDesign, studioWithSupplies } from "../support/designs-fixtures.ts"

const made = (
  change: (fixture: Fixture) => void = () => {},
  cups = 1,
  design?: (f: Fixture) => DesignInput,
) => {
  const fixture = studioWithSupplies()
  change(fixture)
  const { versionId } = addDesign(fixture.studio, design?.(fixture) ?? plainDesign(fixture))
  const result = perCup(fixture.studio, versionId, cups)
  const total = (id: number) => result.totals.find((one) => one.supplyId === id)!
  return { ...fixture, result, total }
}

const offer = ({ studio }: Fixture, contents: [number, number][], priceMicro: number) =>
  addPack(studio, {
    name: `Pack for ${priceMicro}`,
    makerId: null,
    codes: [],
    contents: contents.map(([supplyId, amount]) => ({ supplyId, amount, containerCount: 1 })),
    offers: [{ sellerId: addSeller(studio, { name: `Seller ${priceMicro}`, leadTimeDays: 3 }), priceMicro }],
  })

describe("what a cup takes", () => {
  test("every supply once, the blank first, resin as parts A and B", () => {
    const { ids, result, total } = made()
    expect(result.totals[0]).toMatchObject({ supply: "Slim 30", amount: 1 })
    // 25 mL mixed 1:1 by volume, poured to half millilitres
    expect(total(ids.partA)).toMatchObject({ amount: 12_500, baseUnit: "uL" })
    expect(total(ids.partB)).toMatchObject({ amount: 12_500 })
    expect(total(ids.glitter)).toMatchObject({ amount: 8_000, baseUnit: "mg" })
    expect(total(ids.box)).toMatchObject({ amount: 1 })
  })

  test("what stays in the mixing cup is lost once a mix: six cups together take less than six alone", () => {
    const { ids, total } = made(undefined, 6)
    // (6 × 23.5 mL + 1.5 mL) ÷ 2 = 71.25 mL, up to the next half millilitre that keeps 1:1; six cups need two mixes
    // of at most four (pot life 45 min, 5 to mix, 10 a cup): 3 × 23.5 + 1.5 = 72 mL, 36 mL of each part, twice
    expect(total(ids.partA).amount).toBe(72_000)
    expect(total(ids.partA).amount).toBeLessThan(6 * 12_500)
  })

  test("hands-on, turner and elapsed time follow from the layers and the full cure", () => {
    const { result } = made()
    // prep 5 + base 5 and an hour's drying + resin 5 and 8 h turning + box 5 and three days of cure
    expect(result.times).toMatchObject({ handsOnMin: 20, turnerMin: 480, totalMin: 5 + 65 + 485 + 5 + 4320 })
  })

  test("work costs hands-on minutes at the studio's rate", () => {
    const { result } = made(({ studio }) =>
      keepSettings(studio, { ...settingsOf(studio), labourMicroPerHour: 18_000_000 }),
    )
    expect(result.labourMicro).toBe(6_000_000)
  })
})

describe("what it costs", () => {
  test("the average paid for what is on the shelf comes before what packs cost", () => {
    const { ids, result, total } = made((f) => {
      offer(f, [[f.ids.glitter, 100_000]], 50_000_000)
      receiveOne(f.studio, [f.ids.glitter], "G1", { amount: 100_000 })
      receiveOne(f.studio, [f.ids.glitter], "G2", { amount: 300_000 })
    })
    // 40.00 for 400 g: 8 g cost 0.80
    expect(total(ids.glitter)).toMatchObject({ costMicro: 800_000, priced: "shelf" })
    expect(result.materialsMicro).toBe(800_000)
  })

  test("where nothing is on the shelf, the cheapest pack a gram", () => {
    const { ids, total } = made((f) => {
      offer(f, [[f.ids.glitter, 100_000]], 10_000_000)
      offer(f, [[f.ids.glitter, 500_000]], 30_000_000)
    })
    // 30.00 for 500 g: 8 g cost 0.48
    expect(total(ids.glitter)).toMatchObject({ costMicro: 480_000, priced: "offer" })
  })

  test("a kit's price is shared over its parts by amount", () => {
    const { ids, total } = made((f) => {
      offer(
        f,
        [
          [f.ids.partA, 600_000],
          [f.ids.partB, 300_000],
        ],
        45_000_000,
      )
    })
    // 45.00 over 900 mL is 0.05 a mL, whichever part
    expect(total(ids.partA)).toMatchObject({ costMicro: 625_000, priced: "offer" })
    expect(total(ids.partB)).toMatchObject({ costMicro: 625_000 })
  })

  test("what was there on the first day carries no cost and makes nothing look free", () => {
    const { ids, total } = made((f) => {
      receiveOne(f.studio, [f.ids.glitter], "G1", { amount: 100_000 })
      f.studio.file.runText("DROP TRIGGER container_amount_by_movement")
      f.studio.file.runText("UPDATE container SET cost_left_micro = 0")
      offer(f, [[f.ids.glitter, 100_000]], 10_000_000)
    })
    expect(total(ids.glitter)).toMatchObject({ costMicro: 800_000, priced: "offer" })
  })

  test("what nobody priced is said to have no price", () => {
    const { ids, result, total } = made()
    expect(total(ids.box)).toMatchObject({ costMicro: null, priced: null })
    expect(result.materialsMicro).toBe(0)
  })
})

describe("cautions of each layer", () => {
  test("by the hazards of what it takes, and by its kind; the data sheet comes last", () => {
    const { result } = made()
    const [prep, , resin, box] = result.layers
    expect(prep?.hazards).toEqual(["Catches fire easily", "Irritates the eyes"])
    expect(prep?.cautions.join(" ")).toMatch(/no flame, heater/)
    expect(resin?.cautions.join(" ")).toMatch(/allergy/)
    for (const layer of result.layers) expect(layer.cautions.at(-1)).toMatch(/safety data sheet/)
    expect(box?.cautions).toHaveLength(1)
  })
})

describe("the cut through the layers", () => {
  const picture = (design?: (f: Fixture) => DesignInput) => {
    const { result, ids } = made(undefined, 1, design)
    const colours = new Map([[ids.blue, "#2255aa"]])
    return { result, cut: crossSection(result.layers, result.plan.blank, colours, "metric") }
  }
  const coats = (resin: number, amounts: number[]) =>
    amounts.map((amount, index) =>
      layerInput({
        kind: "resin",
        name: `Coat ${index + 1}`,
        uses: [
          {
            how: "resin-mixed",
            resinSystemId: resin,
            amount,
            sharePpm: 1_000_000,
            dripPpm: 250_000,
            residueUl: 1_500,
          },
        ],
      }),
    )

  test("25 mL on the slim 30 leaves 0.34 mm: (25 − 1.5) mL × ¾ over the coated area", () => {
    // 0.052 m²: a cone frustum 70.1 to 75.8 mm wide and 227 mm high (any handbook: π (r₁ + r₂) · slant)
    const area = Math.PI * (70.075 / 2 + 75.75 / 2) * Math.hypot((75.75 - 70.075) / 2, 227)
    const { result, cut } = picture()
    const [coat] = result.layers[2]!.films.resin
    expect(coat!.filmUm).toBeCloseTo((23_500 * 0.75 * 1000) / area, 6)
    expect(cut.coats.map((coat) => coat.label)).toEqual(["Glitter coat · 0.34 mm", "Base coat"])
    expect(cut.said).toBe("From the cup's wall outwards: Base coat, Glitter coat 0.34 mm.")
  })

  test("resin films are drawn to one scale, the outermost on top, each resting on the one below", () => {
    const { result, cut } = picture((f) =>
      plainDesign(f, { layers: coats(f.resin, [11_500, 21_500, 31_500]) }),
    )
    const boxes = cut.coats.map((coat) => coat.segments[0]!)
    const heights = boxes.map((box) => box.height)
    // what stays on the cup is 10, 20 and 30 mL less the drips
    expect(heights[0]! / heights[2]!).toBeCloseTo(3, 1)
    expect(heights[1]! / heights[2]!).toBeCloseTo(2, 1)
    expect(cut.coats.map((coat) => coat.label.slice(0, 6))).toEqual(["Coat 3", "Coat 2", "Coat 1"])
    for (const [upper, lower] of [
      [0, 1],
      [1, 2],
    ] as const)
      expect(boxes[upper]!.y + boxes[upper]!.height).toBeCloseTo(boxes[lower]!.y, 0)
    const um = result.layers.reduce((sum, layer) => sum + layer.films.coatUm!, 0)
    const drawnMm = (heights.reduce((a, b) => a + b, 0) * 25.4) / 96
    expect(cut.timesThicker! / (drawnMm / (um / 1000))).toBeCloseTo(1, 0)
  })

  test("labels never lie on each other, however thin and many the layers are", () => {
    const { cut } = picture((f) => plainDesign(f, { layers: coats(f.resin, Array(12).fill(3_000)) }))
    const places = [...cut.coats.map((coat) => coat.labelY), cut.wall.labelY]
    for (const [index, y] of places.slice(1).entries())
      expect(y - places[index]!).toBeGreaterThanOrEqual(20.9)
    expect(places[0]).toBeGreaterThan(0)
    expect(places.at(-1)).toBeLessThan(cut.height)
  })

  test("sprayed colours stand side by side by their share of the surface", () => {
    const { cut } = picture((f) =>
      plainDesign(f, {
        layers: [
          layerInput({
            kind: "spray",
            name: "Colours",
            uses: (
              [
                [f.ids.blue, 750_000],
                [f.ids.white, 250_000],
              ] as const
            ).map(([supplyId, sharePpm]) => ({
              how: "per-cup",
              supplyId,
              amount: 10_000,
              sharePpm,
            })),
          }),
        ],
      }),
    )
    const [blue, white] = cut.coats[0]!.segments
    // the lowest 3 of 240 mm stay bare
    expect(blue).toMatchObject({ x: 1.7, colour: "#2255aa", isResin: false })
    expect(blue!.width / white!.width).toBeCloseTo(3, 1)
    expect(white!.x).toBeCloseTo(blue!.x + blue!.width, 1)
    expect(cut.thickest).toBeNull()
  })
})
