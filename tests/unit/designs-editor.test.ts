import { Temporal } from "temporal-polyfill"
import { beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { type Draft, EMPTY_DRAFT, MOST_LAYERS } from "../../server/designs/draft.ts"
import { entryOf } from "../../server/designs/draft-entry.ts"
import { type Choices, step } from "../../server/designs/draft-steps.ts"
import { draftOf } from "../../server/designs/draft-text.ts"
import { choicesOf } from "../../server/designs/editor-page.ts"
import { designs, versionOf } from "../../server/designs/service.ts"
import { readTime, timeText } from "../../server/designs/words.ts"
import { LAYER_KINDS } from "../../server/domain/plan.ts"
import type { Studio } from "../../server/ledger/studio.ts"
import type { FormError } from "../../server/web/forms.ts"
import { type Fixture, layerInput, plainDesign, studioWithSupplies } from "../support/designs-fixtures.ts"

let f: Fixture
let choices: Choices
beforeAll(() => {
  f = studioWithSupplies()
  choices = choicesOf(f.studio)
})

const steps = (draft: Draft, ...asked: string[]): Draft =>
  asked.reduce((now, one) => step(now, one, choices).draft, draft)
const names = (draft: Draft) => draft.layers.map((layer) => layer.name)
const problemsOf = (draft: Draft) => {
  try {
    entryOf(draft, choices)
  } catch (error) {
    return (error as FormError).problems
  }
  return []
}

describe("what is kept is what the editor shows, and the reverse", () => {
  test.each(["metric", "us"] as const)("the demo's designs, in %s units, to the last µL", (units) => {
    const file = openStudioFile(":memory:")
    const studio: Studio = { file, now: () => Temporal.Instant.from("2026-03-02T09:00:00Z") }
    loadDemo(file, studio.now())
    const kept = designs(studio)
    expect(kept.length).toBeGreaterThan(3)
    for (const { versionId, name } of kept) {
      const design = { name, version: versionOf(studio, versionId).input }
      const there = { ...choicesOf(studio), units }
      expect(entryOf(draftOf(design, there), there)).toEqual(design)
    }
  })

  test.each(["metric", "us"] as const)(
    "every way of measuring, with awkward numbers, in %s units",
    (units) => {
      const odd = { sharePpm: 333_333 }
      const laid = { marginUm: 5_001, gapUm: 1_999, mayTurn: false, reprintPpm: 12_345 }
      const resin = { resinSystemId: f.resin, sharePpm: 1, dripPpm: 123_457, residueUl: 1 }
      const { ids } = f
      const design = plainDesign(f, {
        fullCureMin: 4321,
        priceMicro: 12_345_678,
        layers: [
          layerInput({
            handsOnMin: 7,
            turnerMin: 481,
            recoatEarliestMin: 61,
            recoatLatestMin: 1439,
            band: { fromUm: 12_345, toUm: 98_765 },
            uses: [
              { how: "resin-film", amount: 257, ...resin },
              { how: "resin-mixed", amount: 25_001, ...resin },
              { how: "resin-applied", amount: 19_999, ...resin, residueUl: 0, dripPpm: 0 },
              { how: "per-cup", supplyId: ids.blue, amount: 12_347, ...odd },
              { how: "per-area", supplyId: ids.blue, amount: 123_457, ...odd },
              { how: "per-resin", supplyId: ids.glitter, amount: 20_001, ...odd },
              { how: "per-mix", supplyId: ids.wipe, amount: 1, ...odd },
              { how: "per-batch", supplyId: ids.wipe, amount: 7, ...odd },
              { how: "per-session", supplyId: ids.wipe, amount: 3, ...odd },
              { how: "sprinkled", supplyId: ids.glitter, amount: 123_456, ...odd },
              {
                how: "spray-film",
                supplyId: ids.blue,
                dryUm: 13,
                passes: 3,
                solidsPpm: 123_456,
                transferPpm: 287_654,
                ...odd,
              },
              {
                how: "piece",
                supplyId: ids.vinyl,
                cut: { shape: "flat", widthUm: 90_001, heightUm: 60_007 },
                ...laid,
              },
              {
                how: "piece",
                supplyId: ids.vinyl,
                cut: { shape: "wrap", overlapUm: 3_001 },
                ...laid,
                mayTurn: true,
                reprintPpm: 0,
              },
            ],
          }),
        ],
      })
      const there = { ...choices, units }
      expect(entryOf(draftOf(design, there), there)).toEqual(design)
    },
  )
})

describe("times as people write them", () => {
  test.each([
    ["12", 720],
    ["12 h", 720],
    ["0", 0],
    ["30 min", 30],
    ["45m", 45],
    ["1 h 30 min", 90],
    ["1.5 hours", 90],
    ["1,5h", 90],
    ["3 days", 4320],
    ["1 day 6 h", 1800],
  ])("%s is %d minutes", (text, minutes) => expect(readTime(text)).toBe(minutes))

  test.each([
    "",
    "soon",
    "three days",
    "-5 h",
    "12 parsecs",
    "5 h later",
    "9999999",
    "400 days",
    "1 2",
    "3 days 6",
  ])("“%s” is no time", (text) => expect(readTime(text)).toBeNull())

  test("a time in a field reads back to the minute", () => {
    for (const minutes of [0, 1, 59, 60, 61, 719, 720, 4320, 4321, 100_000])
      expect(readTime(timeText(minutes))).toBe(minutes)
  })
})

describe("steps of the editor", () => {
  test.each(LAYER_KINDS)("a new layer of kind %s has times, a name and lines to fill in", (kind) => {
    const [layer] = steps(EMPTY_DRAFT, `add-layer:${kind}`).layers
    expect(layer).toMatchObject({ kind, open: "1" })
    expect(layer!.name).not.toBe("")
    expect(layer!.uses.length).toBeGreaterThan(0)
    expect(readTime(layer!.earliest)).toBeGreaterThanOrEqual(0)
    expect(readTime(layer!.turner)).toBeGreaterThanOrEqual(0)
  })

  test("a resin coat begins with 25 mL mixed, a quarter dripping off, the only resin, and its recoat window", () => {
    const [layer] = steps(EMPTY_DRAFT, "add-layer:resin").layers
    expect(layer).toMatchObject({ earliest: "8 h", latest: "24 h" })
    expect(layer!.uses).toMatchObject([
      {
        how: "resin-mixed",
        resinSystemId: String(f.resin),
        amount: "25 mL",
        drip: "25",
        residue: "1.5 mL",
        share: "100",
      },
    ])
  })

  test("a second coat of a kind gets a name of its own", () => {
    expect(names(steps(EMPTY_DRAFT, "add-layer:resin", "add-layer:resin", "add-layer:resin"))).toEqual([
      "Resin coat",
      "Resin coat 2",
      "Resin coat 3",
    ])
  })

  test("layers move up and down, and stop at the ends", () => {
    const three = steps(EMPTY_DRAFT, "add-layer:prep", "add-layer:spray", "add-layer:counted")
    const [prep, spray, box] = names(three)
    expect(names(steps(three, "up:1"))).toEqual([spray, prep, box])
    expect(names(steps(three, "down:1"))).toEqual([prep, box, spray])
    expect(names(steps(three, "up:0", "down:2"))).toEqual([prep, spray, box])
    expect(step(three, "down:1", choices).layer).toBe(2)
  })

  test("a layer taken out can be put back where it was, everything in it as it was typed", () => {
    const three = steps(EMPTY_DRAFT, "add-layer:prep", "add-layer:spray", "add-layer:counted")
    three.layers[1]!.uses[0]!.amount = "about twelve"
    const without = steps(three, "remove:1")
    expect(names(without)).toEqual(["Prep", "Lid, box, card"])
    expect(steps(without, "restore")).toEqual(three)
  })

  test("a copied layer stands below the first and shares nothing with it", () => {
    const twice = steps(EMPTY_DRAFT, "add-layer:spray", "copy:0")
    twice.layers[1]!.uses[0]!.amount = "1 g"
    expect(twice.layers[0]!.uses[0]!.amount).toBe("12 g")
    expect(twice.layers).toHaveLength(2)
  })

  test("lines are added with a start and taken out", () => {
    const draft = steps(EMPTY_DRAFT, "add-layer:resin", "add-use:0:glitter")
    expect(draft.layers[0]!.uses[1]).toMatchObject({
      sort: "glitter",
      how: "per-cup",
      // the only glitter there is
      supplyId: String(f.ids.glitter),
      amount: "6 g",
    })
    expect(steps(draft, "remove-use:0:0").layers[0]!.uses.map((use) => use.sort)).toEqual(["glitter"])
  })

  test("what no button says is refused", () => {
    const draft = steps(EMPTY_DRAFT, "add-layer:prep")
    for (const asked of [
      "",
      "add-layer:icing",
      "up:1",
      "up:-1",
      "remove:x",
      "add-use:0:icing",
      "remove-use:0:9",
      "drop",
    ])
      expect(() => step(draft, asked, choices)).toThrow("This page is out of date: open it again.")
  })

  test("more layers than a form holds are refused, and the draft stays", () => {
    const full = steps(EMPTY_DRAFT, ...Array<string>(MOST_LAYERS).fill("add-layer:counted"))
    expect(() => step(full, "add-layer:counted", choices)).toThrow("at most 24 layers")
    expect(() => step(full, "copy:0", choices)).toThrow("at most 24 layers")
  })
})

describe("bad input gets a sentence beside its field", () => {
  const good = () => draftOf(plainDesign(f), choices)
  const withUse = (layer: number, use: object) => {
    const draft = good()
    Object.assign(draft.layers[layer]!.uses[0]!, use)
    return draft
  }

  test("a good draft has none", () => {
    expect(problemsOf(good())).toEqual([])
  })

  test("no layers", () => {
    expect(problemsOf({ ...good(), layers: [] })).toEqual([
      { field: null, sentence: "A design needs at least one layer: add the first one below." },
    ])
  })

  test("no name, no cup, a price below zero, a cure in words", () => {
    const problems = problemsOf({
      ...good(),
      name: " ",
      blankSupplyId: "",
      price: "-3",
      fullCure: "three days",
    })
    expect(problems).toEqual([
      { field: "name", sentence: "Name is missing." },
      { field: "blankSupplyId", sentence: "Cup: choose one." },
      { field: "fullCure", sentence: "Full cure: write a time like 12 h, 30 min or 3 days." },
      { field: "price", sentence: "A price cannot be below zero: write it without the minus." },
    ])
  })

  test.each([
    ["an amount in another kind of unit", 1, { amount: "12 cm" }, "amount", /Base coat: .*counted by weight/],
    ["an amount of zero", 1, { amount: "0" }, "amount", /Base coat: Zero is no amount/],
    ["a negative amount", 1, { amount: "-5 g" }, "amount", /Base coat: An amount cannot be below zero/],
    ["an amount no studio holds", 1, { amount: "9e99 kg" }, "amount", /Base coat: /],
    ["half a box", 3, { amount: "0.5" }, "amount", /Pack: Pieces are counted whole/],
    [
      "a share above the whole",
      1,
      { share: "120" },
      "share",
      /Base coat: Share of the surface must be a number/,
    ],
    ["no supply", 1, { supplyId: "" }, "supplyId", /Base coat: Choose what is used/],
    ["a supply that is not there", 1, { supplyId: "999" }, "supplyId", /Base coat: Choose what is used/],
    [
      "a resin that is not there",
      2,
      { resinSystemId: "999" },
      "resinSystemId",
      /Glitter coat: Choose which resin/,
    ],
    [
      "all of it dripping off",
      2,
      { drip: "100" },
      "drip",
      /Glitter coat: Drips off must be a number from 0 to 90/,
    ],
    [
      "a film in millilitres",
      2,
      { how: "resin-film" },
      "amount",
      /Glitter coat: A film is given by its thickness/,
    ],
  ])("%s", (_what, layer, use, field, sentence) => {
    const problems = problemsOf(withUse(layer, use))
    expect(problems).toHaveLength(1)
    expect(problems[0]).toEqual({
      field: `layers[${layer}][uses][0][${field}]`,
      sentence: expect.stringMatching(sentence),
    })
  })

  test("a latest next layer before the earliest", () => {
    const draft = good()
    draft.layers[2]!.latest = "2"
    expect(problemsOf(draft)).toEqual([
      {
        field: "layers[2][latest]",
        sentence: "Glitter coat: The latest next layer cannot come before the earliest.",
      },
    ])
  })
})
