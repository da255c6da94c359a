import { describe, expect, test } from "vitest"
import type { BaseUnit, SupplyKind } from "../../server/domain/plan.ts"
import { goesOver, sharedWord, vesselWord } from "../../server/domain/vessels.ts"

const held = (kind: SupplyKind, baseUnit: BaseUnit, more: { isSprayCan?: true; isOffcut?: true } = {}) => ({
  kind,
  baseUnit,
  isSprayCan: false,
  isOffcut: false,
  ...more,
})

describe("what a container is called", () => {
  // what makers call them: common practice, no source
  test.each([
    ["resin by volume", held("resin", "uL"), "bottle"],
    ["hardener by weight", held("hardener", "mg"), "bottle"],
    ["paint that is brushed", held("paint", "uL"), "bottle"],
    ["paint that is sprayed", held("paint", "mg", { isSprayCan: true }), "can"],
    ["glitter", held("glitter", "mg"), "jar"],
    ["pigment paste", held("pigment", "uL"), "jar"],
    ["gloves", held("consumable", "each"), "box"],
    ["lids", held("packaging", "each"), "box"],
    ["blanks", held("blank", "each"), "carton"],
    ["vinyl sheets", held("vinyl", "mm2"), "pack of sheets"],
    ["a part of a sheet", held("vinyl", "mm2", { isOffcut: true }), "offcut"],
    ["tape by length", held("consumable", "um"), "roll"],
    ["something else", held("other", "uL"), "container"],
    ["pieces of something else", held("other", "each"), "container"],
  ])("%s", (_, thing, word) => expect(vesselWord(thing).one).toBe(word))

  test("several of one sort keep their word, and different ones are containers", () => {
    const bottle = vesselWord(held("resin", "uL"))
    expect(sharedWord([bottle, vesselWord(held("solvent", "uL"))]).many).toBe("bottles")
    expect(sharedWord([bottle, vesselWord(held("glitter", "mg"))]).many).toBe("containers")
    expect(sharedWord([]).one).toBe("container")
  })
})

test("liquids and powders are poured, pieces put; a can under pressure, sheets and rolls are neither", () => {
  expect(goesOver(held("resin", "uL"))).toBe("poured")
  expect(goesOver(held("glitter", "mg"))).toBe("poured")
  expect(goesOver(held("consumable", "each"))).toBe("put")
  expect(goesOver(held("paint", "mg", { isSprayCan: true }))).toBeNull()
  expect(goesOver(held("vinyl", "mm2"))).toBeNull()
  expect(goesOver(held("consumable", "um"))).toBeNull()
})
