import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { mixByCode } from "../../server/lookup/service.ts"
import { countContainer, openContainer } from "../../server/shelf/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceCup } from "../../server/tracing/service.ts"
import { verify } from "../../server/verify/service.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }

let here: Listening
let keys = 0
const key = () => `measured-test-${++keys}`
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, tracingRoutes, historyRoutes])
})
afterAll(() => here.close())

/** A batch with the layers before one of a name done. */
async function startUpTo(design: string, cups: number, layer: string) {
  const { versionId } = designs(studio).find((one) => one.name === design)!
  // so that no test runs another short of blanks
  const { code } = file.firstText<{ code: string }>(
    "SELECT c.code FROM container c JOIN supply s ON s.id = c.supply_id WHERE s.name = 'Slim 20 oz blank' ORDER BY c.id DESC",
  )!
  countContainer(studio, { device: "test", key: key() }, { code, amount: 12 + (keys % 7), basis: "counted" })
  const answer = await here.post("/batches", { key: key(), versionId: String(versionId), cups: String(cups) })
  const id = Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
  const position = progress(id).plan.layers.find((one) => one.name === layer)!.position
  for (let done = 1; done < position; done++) await post(id, "coat", { position: String(done) })
  return { id, position: String(position) }
}
const progress = (id: number) => batchProgress(studio, id)
const post = (id: number, step: string, fields: Record<string, string | string[]>) =>
  here.post(`/batches/${id}/${step}`, { key: key(), ...fields })
const undoLast = () => here.post(`/history/${lastAction()}/undo`, { key: key(), returnTo: "/" })
const lastAction = () => file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
const supplyId = (name: string) =>
  String(file.firstText<{ id: number }>("SELECT id FROM supply WHERE name = ?", [name])!.id)
const onShelf = () =>
  JSON.stringify(
    onHand(file, "UTC").map(({ code, amountLeft, costLeftMicro }) => [code, amountLeft, costLeftMicro]),
  )
const took = (id: number, supply: string) =>
  file.firstText<{ took: number }>(
    `SELECT -sum(m.amount) AS took FROM movement m JOIN coat c ON c.id = m.coat_id JOIN container k ON k.id = m.container_id
     JOIN supply s ON s.id = k.supply_id WHERE c.batch_id = ? AND s.name = ?`,
    [id, supply],
  )!.took
const lastMix = () =>
  file.firstText("SELECT planned_a, planned_b, actual_a, actual_b FROM mix ORDER BY id DESC LIMIT 1")
const pour = (a: string, b: string, left = "") => ({
  "poured[0][use]": "0",
  "poured[0][nth]": "0",
  "poured[0][a]": a,
  "poured[0][b]": b,
  "poured[0][left]": left,
})

describe("what was poured", () => {
  test("is what the mix records and the bottles lose; nothing typed means as planned", async () => {
    const { id, position } = await startUpTo("Sea glass", 1, "Final coat")
    const before = took(id, "Tumble Clear A")
    expect((await post(id, "coat", { position, ...pour("20 mL", "20") })).status).toBe(303)
    expect(lastMix()).toMatchObject({ actual_a: 20_000, actual_b: 20_000 })
    expect(took(id, "Tumble Clear A") - before).toBe(20_000)
    const { code } = file.firstText<{ code: string }>("SELECT code FROM mix ORDER BY id DESC")!
    const poured = mixByCode(studio, code).containers.filter((one) => one.supply.startsWith("Tumble Clear"))
    expect(poured.map(({ supply, amount, measured }) => [supply, amount, measured])).toEqual([
      ["Tumble Clear A", 20_000, true],
      ["Tumble Clear B", 20_000, true],
    ])
    await undoLast()
    expect((await post(id, "coat", { position, ...pour("", "") })).status).toBe(303)
    const { planned_a, actual_a } = lastMix() as { planned_a: number; actual_a: number }
    expect(actual_a).toBe(planned_a)
  })

  test("3 % off its ratio is kept with a remark, on the page and on the cup's record", async () => {
    const { id, position } = await startUpTo("Sea glass", 1, "Final coat")
    const answer = await post(id, "coat", { position, ...pour("20.6", "20") })
    expect(answer.status).toBe(303)
    const cup = (await here.get(`/cups/${progress(id).cups[0]!.serial}`)).text
    expect(cup).toContain("3.0 % too much Tumble Clear A")
  })

  test("more than 5 % off is refused in words, until the person says that it was poured so", async () => {
    const { id, position } = await startUpTo("Sea glass", 1, "Final coat")
    const shelf = onShelf()
    const refused = await post(id, "coat", { position, ...pour("20", "18") })
    expect(refused.status).toBe(422)
    expect(refused.text).toContain("11.1 % too much Tumble Clear A")
    expect(refused.text).toContain("If it really was poured so, tick that below.")
    expect(refused.text).toMatch(/name="poured\[0\]\[b\]"[^>]* value="18"/)
    expect(onShelf()).toBe(shelf)
    expect(refused.text).toContain('name="asPoured"')
    expect((await post(id, "coat", { position, ...pour("20", "18"), asPoured: "on" })).status).toBe(303)
    expect(lastMix()).toMatchObject({ actual_a: 20_000, actual_b: 18_000 })
    expect((await here.get(`/cups/${progress(id).cups[0]!.serial}`)).text).toContain(
      "It may stay soft or sticky",
    )
  })

  test("a kit mixed by weight is typed in grams and kept in its own unit", async () => {
    const { id, position } = await startUpTo("Big adventure", 1, "Hard seal")
    expect((await post(id, "coat", { position, ...pour("33.9", "15.3 g") })).status).toBe(303)
    // 1.13 and 1.01 g/mL: 33.9 g are 30 mL, 15.3 g are 15.149 mL
    expect(lastMix()).toMatchObject({ actual_a: 30_000, actual_b: 15_149 })
  })

  test("what was left in the mixing cup is kept beside it, by marks or on the scale", async () => {
    const { id, position } = await startUpTo("Sea glass", 1, "Final coat")
    // 1:1 by volume of 1.15 and 0.97 g/mL is 1.06 g/mL mixed
    expect((await post(id, "coat", { position, ...pour("20", "20", "5.3 g") })).status).toBe(303)
    expect(file.firstText("SELECT left_ul FROM mix_left ORDER BY id DESC LIMIT 1")).toEqual({
      left_ul: 5_000,
    })
  })
})

describe("what was weighed", () => {
  test("a jar before and after: the difference is what the coat took, shared over its cups", async () => {
    const { id, position } = await startUpTo("Sea glass", 3, "Seal coat")
    const answer = await post(id, "coat", {
      position,
      "weighed[0][supplyId]": supplyId("Holo white"),
      "weighed[0][before]": "112.4 g",
      "weighed[0][after]": "95",
    })
    expect(answer.status).toBe(303)
    expect(took(id, "Holo white")).toBe(17_400)
    const amounts = progress(id).cups.map(
      (cup) =>
        traceCup(studio, cup.serial)
          .layers.flatMap((layer) => layer.coats.flatMap((coat) => coat.uses))
          .find((use) => use.supply === "Holo white")!.amount,
    )
    expect(amounts).toEqual([5_800, 5_800, 5_800])
    expect(
      file.firstText("SELECT planned FROM coat_plan WHERE supply_id = ? ORDER BY coat_id DESC LIMIT 1", [
        Number(supplyId("Holo white")),
      ]),
    ).toEqual({ planned: 18_000 })
  })
})

describe("measured afterwards", () => {
  const coated = async () => {
    const made = await startUpTo("Sea glass", 2, "Final coat")
    await post(made.id, "coat", { position: made.position })
    const coatId = String(file.firstText<{ id: number }>("SELECT max(coat_id) AS id FROM mix")!.id)
    return { ...made, coatId, path: `measured/${made.position}` }
  }

  test("more or less than the book says is taken from the bottle or goes back, and can be undone", async () => {
    const { id, coatId, path } = await coated()
    const shelf = onShelf()
    const booked = took(id, "Tumble Clear A")
    const line = (a: string, b: string) => ({
      "poured[0][coatId]": coatId,
      "poured[0][a]": a,
      "poured[0][b]": b,
    })
    expect((await here.get(`/batches/${id}/${path}`)).text).toContain("planned 31.5 mL")
    for (const [typed, millilitres] of [
      ["40", 40],
      ["25", 25],
    ] as const) {
      expect((await post(id, path, line(typed, typed))).status).toBe(303)
      const parts = file.firstText<{ a: number; b: number }>(
        "SELECT planned_a AS a, planned_b AS b FROM mix WHERE coat_id = ?",
        [Number(coatId)],
      )!
      expect(took(id, "Tumble Clear A") - booked).toBe(millilitres * 1000 - parts.a)
    }
    const first = lastAction() - 1
    const early = await here.post(`/history/${first}/undo`, { key: key(), returnTo: "/" })
    expect([early.status, early.text.includes("it was measured after it")]).toEqual([409, true])
    await undoLast()
    await here.post(`/history/${first}/undo`, { key: key(), returnTo: "/" })
    expect(took(id, "Tumble Clear A")).toBe(booked)
    expect(onShelf()).toBe(shelf)
  })

  test("the coat is not undone while its measure stands", async () => {
    const { id, coatId, path } = await coated()
    const step = lastAction()
    await post(id, path, { "poured[0][coatId]": coatId, "poured[0][left]": "1" })
    const answer = await here.post(`/history/${step}/undo`, { key: key(), returnTo: "/" })
    expect([answer.status, answer.text.includes("it was measured after it")]).toEqual([409, true])
  })

  test("the cup's record shows what was measured", async () => {
    const { id, coatId, path } = await coated()
    await post(id, path, { "poured[0][coatId]": coatId, "poured[0][a]": "36", "poured[0][b]": "36" })
    const { serial } = progress(id).cups[0]!
    const uses = traceCup(studio, serial)
      .layers.at(-2)!
      .coats.flatMap((coat) => coat.uses)
    expect(uses.find((use) => use.supply === "Tumble Clear A")).toMatchObject({
      amount: 18_000,
      coatAmount: 36_000,
    })
  })

  test("past what the book's bottle holds, it asks; said to have held more, it is counted and taken", async () => {
    const { id, coatId, path } = await coated()
    const litres = { "poured[0][coatId]": coatId, "poured[0][a]": "9 L", "poured[0][b]": "9 L" }
    const refused = await post(id, path, litres)
    expect([refused.status, refused.text.includes("does not hold that much more")]).toEqual([422, true])
    expect((await post(id, path, { ...litres, heldMore: "on" })).status).toBe(303)
    await undoLast()
  })

  describe("which of two open bottles gave how much", () => {
    /** The bottle that was opened besides, and one batch for all of these: the shelf is no larger. */
    let other: string
    let made: Awaited<ReturnType<typeof coated>> | undefined
    /** Several bottles of part A are open, the coat by the book from the first of those shown. */
    const fromTwo = async () => {
      made ??= await coated()
      const batch = made
      const givers = (await here.get(`/batches/${batch.id}/${batch.path}`)).text
      const lines = [...givers.matchAll(/name="from\[(\d+)\]\[(\w+)\]" value="(\d+)"/g)]
      const rows = new Map<string, Record<string, string>>()
      for (const [, index = "", field = "", value = ""] of lines)
        rows.set(index, { ...rows.get(index), [field]: value })
      const partA = supplyId("Tumble Clear A")
      const ofA = [...rows].filter(([, row]) => row.supplyId === partA)
      const mine = ofA.filter(([, row], nth) => nth === 0 || row.containerId === other)
      const say = (...amounts: string[]) =>
        Object.fromEntries(
          mine.flatMap(([index, row], nth) => [
            ...Object.entries(row).map(([field, value]) => [`from[${index}][${field}]`, value]),
            [`from[${index}][amount]`, amounts[nth] ?? ""],
          ]),
        )
      const gave = () =>
        mine.map(
          ([, row]) =>
            file.firstText<{ gave: number }>(
              "SELECT -coalesce(sum(amount), 0) AS gave FROM movement WHERE coat_id = ? AND container_id = ?",
              [Number(batch.coatId), Number(row.containerId)],
            )!.gave,
        )
      return { ...batch, say, gave, containers: mine.map(([, row]) => Number(row.containerId)) }
    }
    beforeAll(() => {
      const full = onHand(file, "UTC").find((one) => one.supply === "Tumble Clear A" && !one.openedOn)!
      openContainer(studio, { device: "test", key: key() }, full.code)
      other = String(full.containerId)
    })

    test("one amount is enough: the rest is the other's, all of it stays the coat's, and Undo takes it back", async () => {
      const { id, path, say, gave } = await fromTwo()
      const before = [onShelf(), took(id, "Tumble Clear A")]
      const [booked = 0, none] = gave()
      expect(none).toBe(0)
      expect((await post(id, path, say("", "20 mL"))).status).toBe(303)
      expect(gave()).toEqual([booked - 20_000, 20_000])
      expect(took(id, "Tumble Clear A")).toBe(before[1])
      expect(verify(file)).toEqual([])
      await undoLast()
      expect([onShelf(), took(id, "Tumble Clear A")]).toEqual(before)
    })

    test("all of it from the other: the cup leads to that one alone, and the coat is not undone under it", async () => {
      const { id, path, coatId, say, gave, containers } = await fromTwo()
      const step = file.firstText<{ id: number }>("SELECT action_id AS id FROM coat WHERE id = ?", [
        Number(coatId),
      ])!.id
      const [booked = 0] = gave()
      await post(id, path, say("0", "31.5 mL"))
      expect(gave()).toEqual([0, booked])
      const uses = traceCup(studio, progress(id).cups[0]!.serial)
        .layers.flatMap((layer) => layer.coats)
        .filter((coat) => coat.coatId === Number(coatId))
        .flatMap((coat) => coat.uses)
      const codeOf = (containerId: number) =>
        file.firstText<{ code: string }>("SELECT code FROM container WHERE id = ?", [containerId])?.code
      expect(uses.filter((use) => use.supply === "Tumble Clear A").map((use) => use.container)).toEqual([
        codeOf(containers[1]!),
      ])
      const mix = file.firstText<{ code: string }>("SELECT code FROM mix WHERE coat_id = ?", [
        Number(coatId),
      ])!
      const ofA = mixByCode(studio, mix.code).containers.filter((one) => one.supply === "Tumble Clear A")
      expect(ofA).toMatchObject([{ code: codeOf(containers[1]!), amount: booked }])
      const answer = await here.post(`/history/${step}/undo`, { key: key(), returnTo: "/" })
      expect([answer.status, answer.text.includes("it was measured after it")]).toEqual([409, true])
      expect(verify(file)).toEqual([])
    })

    test("more than the coat took is refused with a sentence, and nothing changes", async () => {
      const { id, path, say, gave } = await fromTwo()
      const before = gave()
      const answer = await post(id, path, say("", "900 mL"))
      expect(answer.status).toBe(422)
      expect(answer.text).toContain("That is more of Tumble Clear A than the")
      expect(answer.text).toContain('value="900 mL"')
      const short = await post(id, path, say("1 mL", "1 mL"))
      expect([short.status, short.text.includes("Say which of them gave the rest.")]).toEqual([422, true])
      expect(gave()).toEqual(before)
    })
  })

  test("a layer that is not done, or is not there, is not found", async () => {
    const { id } = await startUpTo("Sea glass", 1, "White base")
    for (const path of [
      `/batches/${id}/measured/2`,
      `/batches/${id}/measured/99`,
      "/batches/99999/measured/1",
    ])
      expect((await here.get(path)).status).toBe(404)
  })
})

describe("bad input gets a sentence and changes nothing", () => {
  const weigh = (before: string, after: string, name = "Holo white") => ({
    "weighed[0][supplyId]": supplyId(name),
    "weighed[0][before]": before,
    "weighed[0][after]": after,
  })
  test.each([
    ["only A", () => pour("20", ""), "both, or neither"],
    ["not a number", () => pour("<b>x</b>", "20"), "is not an amount"],
    ["negative", () => pour("-20", "20"), "An amount cannot be below zero"],
    ["absurdly much", () => pour("9999999999 L", "20"), "more than any studio holds"],
    ["more left than poured", () => pour("20", "20", "50 mL"), "More is left in the mixing cup"],
    ["a mix there is not", () => ({ ...pour("20", "20"), "poured[0][nth]": "7" }), "fewer mixes"],
    ["a resin there is not", () => ({ ...pour("20", "20"), "poured[0][use]": "7" }), "no such mix"],
    ["heavier after than before", () => weigh("10", "12"), "weighs more after than before"],
    ["only the weight before", () => weigh("10", ""), "Weigh Holo white before and after: both, or neither."],
    ["only the weight after", () => weigh("", "10"), "Weigh Holo white before and after: both, or neither."],
    ["something else weighed", () => weigh("10", "9", "Fine gold"), "not in this design"],
    ["something of another layer", () => weigh("10", "9", "White primer"), "does not use"],
  ])("%s", async (_what, fields, sentence) => {
    const { id, position } = await startUpTo("Sea glass", 1, "Seal coat")
    const shelf = onShelf()
    const answer = await post(id, "coat", { position, ...fields() })
    expect(answer.status).toBeGreaterThanOrEqual(400)
    expect(answer.text).toContain(sentence)
    expect(answer.text).not.toContain("<b>x</b>")
    expect(answer.text, "no mix was off its ratio").not.toContain('name="asPoured"')
    expect(onShelf()).toBe(shelf)
    expect(progress(id).cups[0]!.layersDone).toBe(Number(position) - 1)
  })

  test.each([
    ["nothing", {}, "Write what you measured"],
    [
      "a coat of another batch",
      { "poured[0][coatId]": "1", "poured[0][a]": "1", "poured[0][b]": "1" },
      "not one of this layer",
    ],
    ["a coat that is none", { "poured[0][coatId]": "x" }, "choose one"],
  ])("afterwards: %s", async (_what, fields, sentence) => {
    const { id, position } = await startUpTo("Sea glass", 1, "Final coat")
    await post(id, "coat", { position })
    const shelf = onShelf()
    const answer = await post(id, `measured/${position}`, fields)
    expect(answer.status).toBeGreaterThanOrEqual(400)
    expect(answer.text).toContain(sentence)
    expect(onShelf()).toBe(shelf)
  })
})
