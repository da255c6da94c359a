import { afterEach, beforeEach, describe, expect, test } from "vitest"
import { designsRoutes } from "../../server/designs/routes.ts"
import { addDesign, designs, type UseInput, versionOf } from "../../server/designs/service.ts"
import { type Fixture, layerInput, plainDesign, studioWithSupplies } from "../support/designs-fixtures.ts"
import { fieldsOf } from "./editor-fields.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

let f: Fixture
let here: Listening
beforeEach(async () => {
  f = studioWithSupplies()
  f.studio.file.runText("UPDATE supply SET density_mg_per_ml = 800 WHERE id = ?", [f.ids.blue])
  f.studio.file.runText("UPDATE supply SET sheet_width_um = 304800, sheet_height_um = 304800 WHERE id = ?", [
    f.ids.vinyl,
  ])
  here = await listenWith(f.studio, [designsRoutes])
})
afterEach(() => here.close())

type Fields = Record<string, string>
const press = async (fields: Fields, asked: string, status = 200) => {
  const answer = await here.post("/designs/new", { ...fields, do: asked }).expect(status)
  return { answer, html: answer.text, fields: fieldsOf(answer.text) }
}
/** A new design on the slim cup with layers of some kinds. */
const begun = async (...kinds: string[]) => {
  let fields: Fields = {
    ...fieldsOf((await here.get("/designs/new")).text),
    name: "By hand",
    blankSupplyId: String(f.ids.cup),
  }
  for (const kind of kinds) fields = (await press(fields, `add-layer:${kind}`)).fields
  return fields
}
const usesOf = () => versionOf(f.studio, designs(f.studio)[0]!.versionId).input.layers

describe("the editor's newer lines", () => {
  test("paint by its data sheet on the lower third of the cup", async () => {
    let fields = await begun("spray")
    fields = (await press(fields, "remove-use:0:0")).fields
    fields = (await press(fields, "add-use:0:film")).fields
    expect(fields["layers[0][uses][0][lands]"]).toBe("30")
    Object.assign(fields, {
      "layers[0][uses][0][supplyId]": String(f.ids.blue),
      "layers[0][uses][0][solids]": "12",
      "layers[0][bandTo]": "33 %",
    })
    await press(fields, "save", 303)
    expect(usesOf()).toMatchObject([
      {
        // 33 % of 240 mm
        band: { fromUm: 0, toUm: 79_200 },
        uses: [
          {
            how: "spray-film",
            dryUm: 12,
            passes: 2,
            solidsPpm: 120_000,
            transferPpm: 300_000,
            sharePpm: 1e6,
          },
        ],
      },
    ])
  })

  test("a wrap around a band, which may not be turned once its box is cleared", async () => {
    let fields = await begun("vinyl")
    fields = (await press(fields, "remove-use:0:0")).fields
    fields = (await press(fields, "add-use:0:wrap")).fields
    expect(fields["layers[0][uses][0][turn]"]).toBe("1")
    delete fields["layers[0][uses][0][turn]"]
    Object.assign(fields, {
      "layers[0][uses][0][supplyId]": String(f.ids.vinyl),
      "layers[0][bandFrom]": "150 mm",
      "layers[0][bandTo]": "19 cm",
    })
    await press(fields, "save", 303)
    expect(usesOf()).toMatchObject([
      {
        band: { fromUm: 150_000, toUm: 190_000 },
        uses: [
          {
            how: "piece",
            cut: { shape: "wrap", overlapUm: 3_000 },
            marginUm: 5_000,
            gapUm: 2_000,
            mayTurn: false,
            reprintPpm: 50_000,
          },
        ],
      },
    ])
  })

  test("a line of resin says what its mL come to, and its thickness in mL, on the chosen cup", async () => {
    const fields = await begun("resin")
    const mixed = (await press(fields, "stay")).html
    expect(mixed).toContain("25 mL mixed for one cup, 23.5 mL of it poured over the cup; 17.6 mL stay on it")
    expect(mixed).toContain("a film of 0.34 mm")
    const film = await press(
      { ...fields, "layers[0][uses][0][how]": "resin-film", "layers[0][uses][0][amount]": "0.3 mm" },
      "stay",
    )
    // 0.3 mm on 520 cm², a quarter of what is poured dripping off, 1.5 mL staying in the cup
    expect(film.html).toContain(
      "A film of 0.3 mm is 15.6 mL on the cup: 20.8 mL poured over one cup, 22.3 mL mixed",
    )
    const noCup = (await press({ ...fields, blankSupplyId: "" }, "stay")).html
    expect(noCup).toContain("Choose the cup to see what it comes to.")
  })

  test("shares of colours say what they mean together", async () => {
    let fields = await begun("spray")
    fields = (await press(fields, "add-use:0:paint")).fields
    const said = async (...shares: [string, string]) =>
      (
        await press(
          { ...fields, "layers[0][uses][0][share]": shares[0], "layers[0][uses][1][share]": shares[1] },
          "stay",
        )
      ).html
    expect(await said("80", "35")).toContain("The shares come to 115 %")
    expect(await said("50", "50")).toContain("Together the colours cover the cup once.")
    expect(await said("50", "20")).toContain("The shares come to 70 %")
  })
})

describe("what cannot be, in a sentence", () => {
  const refusedWith = async (fields: Fields, over: Fields) => {
    const { html } = await press({ ...fields, ...over }, "save", 422)
    expect(designs(f.studio)).toEqual([])
    return html
  }

  test("a band above the lip, or upside down, or on no cup", async () => {
    const fields = {
      ...(await begun("base-coat")),
      "layers[0][uses][0][supplyId]": String(f.ids.white),
    }
    expect(
      await refusedWith(fields, { "layers[0][bandFrom]": "235 mm", "layers[0][bandTo]": "239 mm" }),
    ).toContain("This band lies where the cup stays bare, or above its lip.")
    expect(
      await refusedWith(fields, { "layers[0][bandFrom]": "90 mm", "layers[0][bandTo]": "80 mm" }),
    ).toContain("The band must end higher than it begins.")
    expect(await refusedWith(fields, { "layers[0][bandTo]": "133 %" })).toContain(
      "Covers up to must be a number",
    )
    expect(await refusedWith(fields, { "layers[0][bandTo]": "80 mm", blankSupplyId: "" })).toContain(
      "Choose the cup before a band on it.",
    )
  })

  test("shares that are all zero", async () => {
    let fields = await begun("spray")
    fields = (await press(fields, "add-use:0:paint")).fields
    const html = await refusedWith(fields, {
      "layers[0][uses][0][supplyId]": String(f.ids.white),
      "layers[0][uses][1][supplyId]": String(f.ids.blue),
      "layers[0][uses][0][share]": "0",
      "layers[0][uses][1][share]": "0,0",
    })
    expect(html).toContain("All shares of the surface are zero: give at least one a share.")
    expect(html).not.toContain("Share of the surface must be a number")
  })

  test("a piece larger than its sheet, a film without solids, a pigment above what the resin takes", async () => {
    const vinyl = { ...(await begun("vinyl")), "layers[0][uses][0][supplyId]": String(f.ids.vinyl) }
    expect(await refusedWith(vinyl, { "layers[0][uses][0][width]": "40 cm" })).toContain(
      "Black vinyl: The piece is larger than the sheet",
    )
    let spray = await begun("spray")
    spray = (await press(spray, "add-use:0:film")).fields
    expect(
      await refusedWith(spray, {
        "layers[0][uses][0][supplyId]": String(f.ids.white),
        "layers[0][uses][1][supplyId]": String(f.ids.blue),
        "layers[0][uses][1][solids]": "0",
      }),
    ).toContain("Solids by volume must be a number")

    f.studio.file.runText("UPDATE resin_system SET max_pigment_ppm = 50000")
    let resin = await begun("resin")
    resin = (await press(resin, "add-use:0:pigment")).fields
    expect(
      await refusedWith(resin, {
        "layers[0][uses][1][supplyId]": String(f.ids.blue),
        "layers[0][uses][1][amount]": "64 g",
      }),
    ).toContain("The pigment comes to 6.04 % of the Clear resin by weight, and it takes at most 5 %")
  })
})

describe("a design's page with them", () => {
  test("each amount explains itself; bands, colours and glitter's own volume are said", async () => {
    f.studio.file.runText("UPDATE supply SET density_mg_per_ml = 1380 WHERE id = ?", [f.ids.glitter])
    const whole = { sharePpm: 1_000_000 }
    const spray: UseInput = {
      how: "spray-film",
      supplyId: f.ids.blue,
      dryUm: 12,
      passes: 2,
      solidsPpm: 120_000,
      transferPpm: 300_000,
      ...whole,
    }
    const base = plainDesign(f)
    const { designId } = addDesign(f.studio, {
      ...base,
      version: {
        ...base.version,
        layers: [
          layerInput({ kind: "spray", name: "Foot", band: { fromUm: 0, toUm: 80_000 }, uses: [spray] }),
          ...base.version.layers,
          layerInput({
            kind: "vinyl",
            name: "Pattern",
            band: { fromUm: 150_000, toUm: 190_000 },
            uses: [
              {
                how: "piece",
                supplyId: f.ids.vinyl,
                cut: { shape: "wrap", overlapUm: 3_000 },
                marginUm: 5_000,
                gapUm: 2_000,
                mayTurn: false,
                reprintPpm: 50_000,
              },
            ],
          }),
          layerInput({
            name: "End",
            uses: [{ how: "per-session", supplyId: f.ids.wipe, amount: 2, ...whole }],
          }),
        ],
      },
    })
    const { text } = await here.get(`/designs/${designId}`).expect(200)
    // a frustum 70 to 76 mm wide and 240 mm tall: from 3 mm (bare below) to 80 mm is a third of 3 to 230 mm
    expect(text).toContain("Covers from the base up to 80 mm: 33 % of what this cup&#x27;s coats can cover.")
    expect(text).toContain("Covers from 150 mm up to 190 mm")
    expect(text).toContain("Blue paint dries to 0.024 mm.")
    // 8 g at 1.38 g/mL on 520 cm²
    expect(text).toContain("Silver glitter thickens the coat by 0.11 mm.")
    expect(text).toContain("dry film of a pass × passes ÷ solids ÷ what lands on the cup × density")
    expect(text).toContain("sheet width × (whole sheets × sheet height + length off the last sheet)")
    expect(text).toContain("amount a session")
    // the cut, and the blank with a bar for each band
    expect(text).toContain('aria-label="From the cup&#x27;s wall outwards: Foot 0.024 mm')
    expect(text).toMatch(/<text [^>]*text-anchor="middle"[^>]*>1<\/text>/)
    expect(text).toMatch(/<text [^>]*text-anchor="middle"[^>]*>6<\/text>/)
  })
})
