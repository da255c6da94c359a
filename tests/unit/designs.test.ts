import { describe, expect, test } from "vitest"
import {
  addDesign,
  addVersion,
  changeDesign,
  designs,
  latestVersionId,
  planOf,
  versionOf,
  versionsOf,
} from "../../server/designs/service.ts"
import { layerInput, plainDesign, studioWithSupplies } from "../support/designs-fixtures.ts"

const freeze = (studio: ReturnType<typeof studioWithSupplies>["studio"], versionId: number) =>
  studio.file.runText("UPDATE design_version SET frozen = 1 WHERE id = ?", [versionId])

describe("a design and its versions", () => {
  test("a design that was kept reads back as it was entered", () => {
    const fixture = studioWithSupplies()
    const entered = plainDesign(fixture)
    const { designId, versionId } = addDesign(fixture.studio, entered)
    expect(versionOf(fixture.studio, versionId).input).toEqual(entered.version)
    expect(latestVersionId(fixture.studio, designId)).toBe(versionId)
    expect(designs(fixture.studio)).toMatchObject([
      {
        designId,
        versionId,
        name: "Sea glass",
        number: 1,
        blank: "Slim 30",
        priceMicro: 45_000_000,
        layerCount: 4,
      },
    ])
  })

  test("a plan has the layers in their order, each use with its supply or its resin system", () => {
    const fixture = studioWithSupplies()
    const { versionId } = addDesign(fixture.studio, plainDesign(fixture))
    const plan = planOf(fixture.studio, versionId)
    expect(plan.layers.map((layer) => [layer.position, layer.name])).toEqual([
      [1, "Prep"],
      [2, "Base coat"],
      [3, "Glitter coat"],
      [4, "Pack"],
    ])
    expect(plan.layers[2]?.uses).toMatchObject([
      {
        how: "resin-mixed",
        system: { name: "Clear resin", partA: { name: "Clear resin A" } },
        residueUl: 1_500,
      },
      { how: "per-cup", supply: { name: "Silver glitter", baseUnit: "mg" }, amount: 8_000 },
    ])
    expect(plan.blank).toMatchObject({ supply: { name: "Slim 30" }, bareLipUm: 10_000 })
    expect(plan.blank.rings).toHaveLength(2)
    // each layer by the id it has in the file: coats name it
    const kept = fixture.studio.file.allText<{ id: number }>("SELECT id FROM layer ORDER BY position")
    expect(plan.layers.map((layer) => layer.id)).toEqual(kept.map((row) => row.id))
  })

  test("a design no batch has used is changed in place", () => {
    const fixture = studioWithSupplies()
    const { studio } = fixture
    const { designId, versionId } = addDesign(studio, plainDesign(fixture))
    const changed = plainDesign(fixture, { layers: [layerInput({ name: "Only a box" })] })
    expect(changeDesign(studio, designId, changed)).toEqual({ versionId, number: 1, isNew: false })
    expect(versionOf(studio, versionId).input).toEqual(changed.version)
    expect(studio.file.allText("SELECT id FROM layer_use")).toEqual([])
  })

  test("a design in use stays as it is: a change makes version 2 beside it", () => {
    const fixture = studioWithSupplies()
    const { studio } = fixture
    const { designId, versionId } = addDesign(studio, plainDesign(fixture))
    freeze(studio, versionId)
    const before = versionOf(studio, versionId).input
    const done = changeDesign(studio, designId, plainDesign(fixture, { priceMicro: 50_000_000 }))
    expect(done).toMatchObject({ number: 2, isNew: true })
    expect(versionOf(studio, versionId).input).toEqual(before)
    expect(latestVersionId(studio, designId)).toBe(done.versionId)
    expect(versionsOf(studio, designId).map((version) => version.number)).toEqual([2, 1])
  })

  test("another name alone makes no new version of a design in use", () => {
    const fixture = studioWithSupplies()
    const { studio } = fixture
    const { designId, versionId } = addDesign(studio, plainDesign(fixture))
    freeze(studio, versionId)
    const done = changeDesign(studio, designId, { ...plainDesign(fixture), name: "Sea foam" })
    expect(done).toEqual({ versionId, number: 1, isNew: false })
    expect(planOf(studio, versionId).designName).toBe("Sea foam")
  })
})

describe("what is refused leaves nothing behind", () => {
  const refused = (make: (fixture: ReturnType<typeof studioWithSupplies>) => unknown) => {
    const fixture = studioWithSupplies()
    const before = addDesign(fixture.studio, { ...plainDesign(fixture), name: "Before" })
    let problem: unknown
    try {
      make(fixture)
    } catch (error) {
      problem = error
    }
    expect(designs(fixture.studio).map((design) => [design.name, design.number])).toEqual([["Before", 1]])
    expect(versionOf(fixture.studio, before.versionId).input).toEqual(plainDesign(fixture).version)
    return problem
  }

  test("a design with no layers", () => {
    expect(refused((f) => addDesign(f.studio, plainDesign(f, { layers: [] })))).toMatchObject({
      name: "Refusal",
      field: "layers",
    })
  })

  test("a name that is taken, whatever its capitals", () => {
    expect(refused((f) => addDesign(f.studio, { ...plainDesign(f), name: " before " }))).toMatchObject({
      name: "Refusal",
      field: "name",
    })
  })

  test("a blank, supply or resin that is not there", () => {
    expect(refused((f) => addDesign(f.studio, plainDesign(f, { blankSupplyId: f.ids.box })))).toMatchObject({
      field: "blankSupplyId",
    })
    const unknown = (use: object) => (f: ReturnType<typeof studioWithSupplies>) =>
      addVersion(f.studio, 1, plainDesign(f, { layers: [layerInput({ uses: [use as never] })] }).version)
    const whole = { amount: 1, sharePpm: 1_000_000 }
    expect(refused(unknown({ how: "per-cup", supplyId: 999, ...whole }))).toMatchObject({
      name: "Refusal",
      field: "layers[0][uses][0][supplyId]",
    })
    expect(
      refused(
        unknown({ how: "resin-film", resinSystemId: 999, amount: 1, sharePpm: 1, dripPpm: 0, residueUl: 0 }),
      ),
    ).toMatchObject({ field: "layers[0][uses][0][resinSystemId]" })
  })

  test("resin that is not more than what stays in the mixing cup: the sentence names the layer", () => {
    const problem = refused((f) =>
      addDesign(
        f.studio,
        plainDesign(f, {
          layers: [
            layerInput({ name: "Box" }),
            layerInput({
              kind: "resin",
              name: "Seal",
              uses: [
                {
                  how: "resin-mixed",
                  resinSystemId: f.resin,
                  amount: 1_500,
                  sharePpm: 1_000_000,
                  dripPpm: 0,
                  residueUl: 1_500,
                },
              ],
            }),
          ],
        }),
      ),
    )
    expect(problem).toMatchObject({
      name: "Refusal",
      field: "layers[1]",
      message:
        "Seal: The Clear resin mixed for one cup must be more than what stays in the mixing cup and on the stick.",
    })
  })

  test("what quietly takes nothing: glitter stirred into a layer that mixes no resin", () => {
    const problem = refused((f) =>
      addDesign(
        f.studio,
        plainDesign(f, {
          layers: [
            layerInput({
              name: "Box",
              uses: [
                {
                  how: "per-resin",
                  supplyId: f.ids.glitter,
                  amount: 1,
                  sharePpm: 1_000_000,
                },
              ],
            }),
          ],
        }),
      ),
    )
    expect(problem).toMatchObject({
      field: "layers[0]",
      message: expect.stringContaining("nothing is mixed"),
    })
  })

  test("a design or version that is not there", () => {
    const { studio } = studioWithSupplies()
    expect(() => planOf(studio, 77)).toThrow("There is no such design.")
    expect(() => latestVersionId(studio, 77)).toThrow("There is no such design.")
  })
})
