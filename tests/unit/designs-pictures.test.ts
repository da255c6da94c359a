import { describe, expect, test } from "vitest"
import { crossSection } from "../../server/designs/cross-section.ts"
import { addDesign, type LayerInput, perCup, type UseInput } from "../../server/designs/service.ts"
import { profilePicture } from "../../server/supplies/service.ts"
import { labelPlaces } from "../../server/web/picture.ts"
import { type Fixture, layerInput, plainDesign, studioWithSupplies } from "../support/designs-fixtures.ts"
import { slim30 } from "./plan-fixtures.ts"

const WHOLE = 1_000_000
const weighed = (supplyId: number, sharePpm = WHOLE): UseInput => ({
  how: "per-cup",
  supplyId,
  amount: 10_000,
  sharePpm,
})

function cutOf(layers: (f: Fixture) => LayerInput[]) {
  const f = studioWithSupplies()
  f.studio.file.runText("UPDATE supply SET density_mg_per_ml = 1380 WHERE id = ?", [f.ids.glitter])
  f.studio.file.runText("UPDATE supply SET density_mg_per_ml = 800 WHERE id = ?", [f.ids.blue])
  const { versionId } = addDesign(f.studio, plainDesign(f, { layers: layers(f) }))
  const made = perCup(f.studio, versionId)
  return { made, cut: crossSection(made.layers, made.plan.blank, new Map(), "metric") }
}
const mixed = (f: Fixture): UseInput => ({
  how: "resin-mixed",
  resinSystemId: f.resin,
  amount: 25_000,
  sharePpm: WHOLE,
  dripPpm: 250_000,
  residueUl: 1_500,
})

describe("the cut through the wall", () => {
  test("a band is drawn where it is between base and lip, and what lies over it steps up there", () => {
    const { cut } = cutOf((f) => [
      layerInput({
        kind: "spray",
        name: "Foot",
        band: { fromUm: 60_000, toUm: 120_000 },
        uses: [weighed(f.ids.blue)],
      }),
      layerInput({ kind: "resin", name: "Coat", uses: [mixed(f)] }),
    ])
    const [coat, foot] = cut.coats
    expect(foot!.label).toBe("Foot")
    // 60 to 120 of 240 mm: the second quarter of what is drawn
    expect(foot!.segments).toHaveLength(1)
    const [drawn] = foot!.segments
    expect(drawn!.x / 132).toBeCloseTo(0.25, 2)
    expect((drawn!.x + drawn!.width) / 132).toBeCloseTo(0.5, 2)
    // before, over and after the band; the blank's bare lip and base are not covered
    const [before, over, after] = coat!.segments
    expect(coat!.segments).toHaveLength(3)
    expect(before!.x / 132).toBeCloseTo(3 / 240, 2)
    expect((after!.x + after!.width) / 132).toBeCloseTo(230 / 240, 2)
    expect(before!.y).toBe(after!.y)
    expect(before!.y - over!.y).toBeCloseTo(drawn!.height, 5)
    expect(over!.y + over!.height).toBeCloseTo(drawn!.y, 5)
  })

  test("a sprayed film of known thickness is drawn to the scale of the resin; weighed paint is a thin line", () => {
    const { cut } = cutOf((f) => [
      layerInput({ kind: "base-coat", name: "Weighed", uses: [weighed(f.ids.white)] }),
      layerInput({
        kind: "spray",
        name: "Known",
        uses: [
          {
            how: "spray-film",
            supplyId: f.ids.blue,
            dryUm: 85,
            passes: 2,
            solidsPpm: 300_000,
            transferPpm: 300_000,
            sharePpm: WHOLE,
          },
        ],
      }),
      layerInput({ kind: "resin", name: "Coat", uses: [mixed(f)] }),
    ])
    const [coat, known, line] = cut.coats
    expect(cut.coats.map(({ label }) => label)).toEqual(["Coat · 0.34 mm", "Known · 0.17 mm", "Weighed"])
    expect(coat!.segments[0]!.height / known!.segments[0]!.height).toBeCloseTo(339 / 170, 1)
    expect(line!.segments[0]!.height).toBe(5)
    expect(cut.hasUnknown).toBe(true)
    expect(cut.thickest).toBe("0.51 mm")
  })

  test("glitter thickens its coat by its own volume", () => {
    const { cut, made } = cutOf((f) => [
      layerInput({
        kind: "resin",
        name: "Glitter coat",
        uses: [mixed(f), { how: "per-cup", supplyId: f.ids.glitter, amount: 6_900, sharePpm: WHOLE }],
      }),
    ])
    const { coatUm, resin } = made.layers[0]!.films
    // 5 mL over 520 cm² are 0.096 mm
    expect(coatUm! - resin[0]!.filmUm).toBeCloseTo(96, 0)
    expect(cut.coats[0]!.label).toBe("Glitter coat · 0.44 mm")
  })

  test("colours above the whole lie over each other, below it they leave gaps, together they reach both ends", () => {
    const segments = (...shares: number[]) =>
      cutOf((f) => [
        layerInput({
          kind: "spray",
          name: "Colours",
          uses: shares.map((share, nth) => weighed(nth % 2 === 0 ? f.ids.blue : f.ids.white, share)),
        }),
      ]).cut.coats[0]!.segments
    const over = segments(500_000, 400_000, 250_000)
    expect(over[1]!.x).toBeLessThan(over[0]!.x + over[0]!.width - 3)
    const apart = segments(300_000, 200_000)
    expect(apart[1]!.x).toBeGreaterThan(apart[0]!.x + apart[0]!.width + 3)
    for (const drawn of [over, apart]) {
      expect(drawn[0]!.x / 132).toBeCloseTo(3 / 240, 2)
      expect((drawn.at(-1)!.x + drawn.at(-1)!.width) / 132).toBeCloseTo(230 / 240, 2)
    }
  })
})

describe("the blank from the side", () => {
  test("a bar for each band at its own height, clipped to what may be coated, none in another's place", () => {
    const picture = profilePicture(slim30, [
      { name: "4", band: { fromUm: 0, toUm: 80_000 } },
      { name: "8", band: { fromUm: 150_000, toUm: 190_000 } },
    ])
    // in mm from the lip down: the base keeps its lowest 3 mm bare
    expect(picture.bars).toMatchObject([
      { name: "4", y1: 160, y2: 237 },
      { name: "8", y1: 50, y2: 90 },
    ])
    const [, , width] = picture.viewBox.split(" ").map(Number)
    const [left] = picture.viewBox.split(" ").map(Number)
    expect(picture.bars[0]!.x).toBeGreaterThan(38)
    expect(picture.bars[1]!.x - picture.bars[0]!.x).toBeGreaterThan(picture.barWidth)
    expect(picture.bars[1]!.x).toBeLessThan(left! + width!)
  })
})

test("labels keep their distance and their order, near to what they name", () => {
  expect(labelPlaces([10, 60, 110], 0, 200, 21)).toEqual([10, 60, 110])
  expect(labelPlaces([50, 51, 52], 0, 200, 21)).toEqual([50, 71, 92])
  expect(labelPlaces([190, 195, 199], 0, 200, 21)).toEqual([158, 179, 200])
})
