import { afterEach, beforeEach, describe, expect, test } from "vitest"
import { designsRoutes } from "../../server/designs/routes.ts"
import { addDesign, designs, latestVersionId, versionOf } from "../../server/designs/service.ts"
import { type Fixture, plainDesign, studioWithSupplies } from "../support/designs-fixtures.ts"
import { fieldsOf } from "./editor-fields.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const KEY = "0f9c1d52-3a57-4c5f-9b57-3f3a0b7a6c11"

let f: Fixture
let here: Listening
beforeEach(async () => {
  f = studioWithSupplies()
  here = await listenWith(f.studio, [designsRoutes])
})
afterEach(() => here.close())

const kept = () => addDesign(f.studio, plainDesign(f))
const freeze = (versionId: number) =>
  f.studio.file.runText("UPDATE design_version SET frozen = 1 WHERE id = ?", [versionId])

const editor = async (path: string) => fieldsOf((await here.get(path).expect(200)).text)
/** Presses a button of the editor; the fields of the page that comes back. */
const press = async (path: string, fields: Record<string, string>, asked: string, status = 200) => {
  const answer = await here.post(path, { ...fields, do: asked }).expect(status)
  return { html: answer.text, fields: fieldsOf(answer.text), answer }
}

describe("the list", () => {
  test("an empty one says what a design is and how to begin", async () => {
    const { text } = await here.get("/designs").expect(200)
    expect(text).toContain("There is no design yet.")
    expect(text).toContain('href="/designs/new"')
  })

  test("each design with its blank and price", async () => {
    const { designId } = kept()
    const { text } = await here.get("/designs").expect(200)
    expect(text).toContain(`href="/designs/${designId}"`)
    expect(text).toContain("4 layers on Slim 30, $45.00")
  })
})

describe("a design's page", () => {
  test("says first what a cup takes in time, then amounts, the cut, and why", async () => {
    const { designId } = kept()
    const { text } = await here.get(`/designs/${designId}`).expect(200)
    expect(text).toContain("4 layers on Slim 30: 20 min of your work and 8 h on a turner, ready to use after")
    expect(text).toContain("12.5 mL")
    expect(text).toContain(
      "Clear resin: 25 mL mixed for one cup, 23.5 mL of it poured over the cup; 17.6 mL stay on it, a film of 0.34 mm.",
    )
    expect(text).toContain("drawn about 50 times thicker than they are")
    expect(text).toContain("mixed for one cup")
    expect(text).toMatch(/Take care: catches fire easily, irritates the eyes/)
    expect(text).toContain("No price is known for Slim 30, Isopropyl alcohol")
    // nothing of it has a price: nobody said that a cup costs nothing
    expect(text).toContain("<dt>Materials a cup</dt><dd>not known</dd>")
    expect(text).not.toContain("Left of the price")
  })

  test("works out cups made together, when asked", async () => {
    const { designId } = kept()
    const { text } = await here.get(`/designs/${designId}?cups=6`).expect(200)
    expect(text).toContain("For 6 cups made together")
    // 36 mL of A in each of two mixes: 12 mL a cup
    expect(text).toMatch(/72 mL<br><span class="hint">12 mL a cup/)
  })

  test.each(["0", "-1", "many", "1.5", "99999"])(
    "%s cups made together are refused in one sentence",
    async (cups) => {
      const { designId } = kept()
      const { text } = await here.get(`/designs/${designId}?cups=${cups}`).expect(400)
      expect(text).toContain("Cups made together must be a whole number from 1 to 200.")
    },
  )

  test.each(["/designs/99", "/designs/x", "/designs/99/edit", "/designs/-1", "/designs/new?from=99"])(
    "%s is not there",
    async (path) => {
      const { text } = await here.get(path).expect(404)
      expect(text).not.toContain("at Object")
    },
  )

  test("a version that was never made is not there", async () => {
    const { designId } = kept()
    await here.get(`/designs/${designId}?version=7`).expect(404)
  })

  test("a plan that can no longer be made says why and still opens", async () => {
    const { designId } = kept()
    f.studio.file.runText("UPDATE resin_system SET largest_mix_ul = 1000")
    const { text } = await here.get(`/designs/${designId}`).expect(200)
    expect(text).toContain("This design cannot be made as it stands.")
    expect(text).toContain("Glitter coat: One cup takes more than the largest safe mix of Clear resin")
  })

  test("names are shown as text", async () => {
    const { designId } = addDesign(f.studio, { ...plainDesign(f), name: "<b>Bold</b> & co" })
    const { text } = await here.get(`/designs/${designId}`).expect(200)
    expect(text).toContain("&lt;b&gt;Bold&lt;/b&gt; &amp; co")
    expect(text).not.toContain("<b>Bold</b>")
  })
})

describe("the editor", () => {
  test("a design made with its buttons alone is kept as it was put together", async () => {
    let fields = await editor("/designs/new")
    fields = { ...fields, name: "By hand", blankSupplyId: String(f.ids.cup), price: "30" }
    for (const kind of ["base-coat", "resin", "counted"])
      fields = (await press("/designs/new", fields, `add-layer:${kind}`)).fields
    expect(fields).toMatchObject({ name: "By hand", price: "30", "layers[1][uses][0][amount]": "25 mL" })
    fields["layers[0][uses][0][supplyId]"] = String(f.ids.white)
    fields["layers[2][uses][0][supplyId]"] = String(f.ids.box)
    const { answer } = await press("/designs/new", fields, "save", 303)
    const [design] = designs(f.studio)
    expect(answer.headers.location).toBe(`/designs/${design!.designId}`)
    expect(versionOf(f.studio, design!.versionId).input).toMatchObject({
      priceMicro: 30_000_000,
      layers: [
        { kind: "base-coat", recoatEarliestMin: 60, uses: [{ supplyId: f.ids.white, amount: 12_000 }] },
        {
          kind: "resin",
          recoatEarliestMin: 480,
          recoatLatestMin: 1440,
          uses: [{ how: "resin-mixed", amount: 25_000, dripPpm: 250_000, residueUl: 1_500 }],
        },
        { kind: "counted", uses: [{ supplyId: f.ids.box, amount: 1 }] },
      ],
    })
    await here.get(answer.headers.location!).expect(200)
  })

  test("moving, adding and taking out keep everything typed, the wrong things too, and keep nothing", async () => {
    const { designId } = kept()
    const path = `/designs/${designId}/edit`
    let fields = await editor(path)
    fields["layers[0][uses][0][amount]"] = `five "or so" <mL>`
    fields.fullCure = "a week"
    fields = (await press(path, fields, "down:0")).fields
    fields = (await press(path, fields, "add-use:2:glitter")).fields
    fields = (await press(path, fields, "remove:3")).fields
    expect(fields).toMatchObject({
      fullCure: "a week",
      "layers[1][name]": "Prep",
      "layers[1][uses][0][amount]": `five "or so" <mL>`,
      "layers[2][uses][2][amount]": "6 g",
      "removed[layer][name]": "Pack",
    })
    expect(fields["layers[3][name]"]).toBeUndefined()
    fields = (await press(path, fields, "restore")).fields
    expect(fields["layers[3][name]"]).toBe("Pack")
    expect(versionOf(f.studio, latestVersionId(f.studio, designId)).input).toEqual(plainDesign(f).version)
  })

  test("a blank that is on the shelf without its shape is measured from here", async () => {
    f.studio.file.runText("INSERT INTO supply (name, kind, base_unit) VALUES ('Tall cup', 'blank', 'each')")
    const { id } = f.studio.file.firstText<{ id: number }>("SELECT id FROM supply WHERE name = 'Tall cup'")!
    const { text } = await here.get("/designs/new").expect(200)
    expect(text).toContain(`Tall cup has no shape yet: <a href="/setup/blanks/${id}?returnTo=/designs/new"`)
  })

  test("what Enter presses only shows the page again", async () => {
    const { text } = await here.get("/designs/new").expect(200)
    const first = /<button[^>]*type="submit"[^>]*>/.exec(text.slice(text.indexOf("data-editor")))
    expect(first?.[0]).toContain('value="stay"')
    const { fields } = await press(
      "/designs/new",
      { ...(await editor("/designs/new")), name: "Half done" },
      "stay",
    )
    expect(fields.name).toBe("Half done")
    expect(designs(f.studio)).toEqual([])
  })

  test("a design no batch uses is changed in place; one in use gets version 2 and keeps version 1", async () => {
    const { designId, versionId } = kept()
    const path = `/designs/${designId}/edit`
    const fields = await editor(path)
    await press(path, { ...fields, price: "50" }, "save", 303)
    expect(versionOf(f.studio, versionId).input.priceMicro).toBe(50_000_000)
    freeze(versionId)
    const page = await here.get(path).expect(200)
    expect(page.text).toContain("what you save here becomes version 2")
    await press(path, { ...fieldsOf(page.text), price: "60" }, "save", 303)
    expect(versionOf(f.studio, versionId).input.priceMicro).toBe(50_000_000)
    expect(designs(f.studio)).toMatchObject([{ number: 2, priceMicro: 60_000_000 }])
    const old = await here.get(`/designs/${designId}?version=1`).expect(200)
    expect(old.text).toContain("This is version 1.")
    expect(old.text).not.toContain('action="/batches"')
  })

  test("another like it begins with all its layers and another name", async () => {
    const { versionId } = kept()
    const fields = await editor(`/designs/new?from=${versionId}`)
    expect(fields).toMatchObject({ name: "Sea glass, another", "layers[3][name]": "Pack" })
    await press("/designs/new", fields, "save", 303)
    expect(designs(f.studio).map((design) => design.name)).toEqual(["Sea glass", "Sea glass, another"])
  })

  test("the same form sent twice makes one design, with the same answer", async () => {
    const fields = { ...(await editor(`/designs/new?from=${kept().versionId}`)), key: KEY }
    const once = await press("/designs/new", fields, "save", 303)
    const again = await press("/designs/new", fields, "save", 303)
    expect(again.answer.headers.location).toBe(once.answer.headers.location)
    expect(designs(f.studio)).toHaveLength(2)
  })

  test("sent again after going back and changing something, it is asked once more, and then the change counts", async () => {
    const { designId, versionId } = kept()
    const path = `/designs/${designId}/edit`
    const fields = { ...(await editor(path)), key: KEY }
    await press(path, { ...fields, price: "50" }, "save", 303)
    const again = await press(path, { ...fields, price: "55" }, "save", 409)
    expect(again.html).toContain("already sent with other contents")
    expect(versionOf(f.studio, versionId).input.priceMicro).toBe(50_000_000)
    await press(path, again.fields, "save", 303)
    expect(versionOf(f.studio, versionId).input.priceMicro).toBe(55_000_000)
  })
})

describe("what cannot be kept", () => {
  const refused = async (change: Record<string, string>, sentence: string, field?: string) => {
    const { designId } = kept()
    const path = `/designs/${designId}/edit`
    const fields = { ...(await editor(path)), ...change }
    const { html, fields: again } = await press(path, fields, "save", 422)
    expect(html).toContain(sentence)
    // all that was typed is there again; only the layer with the problem has been unfolded, and the key is fresh
    const typed = Object.entries(fields).filter(([name]) => name !== "key" && !name.endsWith("[open]"))
    expect(again).toMatchObject(Object.fromEntries(typed))
    const layer = field?.match(/^layers\[\d+\]/)
    if (layer) expect(again[`${layer[0]}[open]`]).toBe("1")
    if (field !== undefined)
      expect(html).toMatch(new RegExp(`name="${field.replace(/[[\]]/g, "\\$&")}"[^>]*aria-invalid="true"`))
    expect(versionOf(f.studio, latestVersionId(f.studio, designId)).input).toEqual(plainDesign(f).version)
  }

  test("a resin amount not above what stays in the mixing cup", () =>
    refused(
      { "layers[2][uses][0][amount]": "1.5 mL" },
      "Glitter coat: The Clear resin mixed for one cup must be more than what stays in the mixing cup and on the stick.",
    ))
  test("an unknown supply", () =>
    refused(
      { "layers[1][uses][0][supplyId]": "" },
      "Base coat: Choose what is used, or take the line out.",
      "layers[1][uses][0][supplyId]",
    ))
  test("an amount that is no number", () =>
    refused(
      { "layers[1][uses][0][amount]": "plenty" },
      "Base coat: “plenty” is not an amount: write a number and a unit, like 340 g.",
      "layers[1][uses][0][amount]",
    ))
  test("a name that is far too long", () =>
    refused({ name: "x".repeat(300) }, "Name is too long: at most 80 characters.", "name"))

  test("no layers at all", async () => {
    const fields = { ...(await editor("/designs/new")), name: "Bare", blankSupplyId: String(f.ids.cup) }
    const { html } = await press("/designs/new", fields, "save", 422)
    expect(html).toContain("A design needs at least one layer: add the first one below.")
    expect(designs(f.studio)).toEqual([])
  })

  test("a name that is taken", async () => {
    const { versionId } = kept()
    const fields = { ...(await editor(`/designs/new?from=${versionId}`)), name: "SEA GLASS" }
    const { html } = await press("/designs/new", fields, "save", 422)
    expect(html).toContain("There is already a design called SEA GLASS.")
    expect(designs(f.studio)).toHaveLength(1)
  })

  test.each([
    ["a step nobody offers", { do: "explode" }, 400],
    ["a layer that is not there", { do: "remove:7" }, 400],
    ["no step", { do: "" }, 400],
    ["a kind of layer nobody knows", { do: "stay", "layers[0][kind]": "icing" }, 422],
    [
      "a measure nobody knows",
      { do: "stay", "layers[0][kind]": "prep", "layers[0][uses][0][how]": "x" },
      422,
    ],
    ["layers that are no list", { do: "save", layers: "all of them" }, 422],
    ["uses that are no list", { do: "save", "layers[0][kind]": "prep", "layers[0][uses]": "x" }, 422],
  ] as const)("%s gets one sentence and keeps nothing", async (_what, fields, status) => {
    const { text } = await here.post("/designs/new", { ...fields, key: KEY }).expect(status)
    expect(text).toContain("This page is out of date: open it again.")
    expect(designs(f.studio)).toEqual([])
  })

  test("no key, no design", async () => {
    const { key: _key, ...fields } = await editor(`/designs/new?from=${kept().versionId}`)
    await press("/designs/new", fields, "save", 422)
    expect(designs(f.studio)).toHaveLength(1)
  })

  test("more layers than a form holds", async () => {
    const many = Object.fromEntries(
      Array.from({ length: 25 }, (_, index) => [`layers[${index}][kind]`, "counted"] as const),
    )
    const { text } = await here.post("/designs/new", { ...many, do: "save", key: KEY }).expect(422)
    expect(text).toContain("A design has at most 24 layers.")
  })

  test("a form from another site is not read", async () => {
    await here.post("/designs/new", { do: "save" }).set("Sec-Fetch-Site", "cross-site").expect(403)
  })
})
