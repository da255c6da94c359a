import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress, startBatch } from "../../server/batches/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { suppliesRoutes } from "../../server/supplies/routes.ts"
import { addSupply, keepSubstitutes, substitutes } from "../../server/supplies/service.ts"
import { formsIn } from "../support/forms-in.ts"
import { planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio(ROOMY)
const known = planningStudio(studio)
const dome = addSupply(studio, plainSupply("Dome lids", { kind: "packaging", baseUnit: "each" }))
const flip = addSupply(studio, plainSupply("Flip lids", { kind: "packaging", baseUnit: "each" }))
for (const [supply, amount] of [
  [known.ids.partA, 2_000_000],
  [known.ids.partB, 2_000_000],
  [known.ids.blank, 200],
  [known.ids.lid, 3],
  [dome, 40],
] as const)
  stock(studio, supply, amount)

let here: Listening
let keys = 0
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, suppliesRoutes, historyRoutes])
})
afterAll(() => here.close())
beforeEach(() => {
  keepSubstitutes(studio, known.ids.lid, [{ supplyId: dome, ratioPpm: 1_000_000 }])
})

const key = () => `substitutes-${++keys}`
const post = (path: string, fields: Record<string, string>) => here.post(path, { key: key(), ...fields })
const lastAction = () => studio.file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
const undo = () => post(`/history/${lastAction()}/undo`, { returnTo: "/" })
const left = (supplyId: number) =>
  studio.file.firstText<{ n: number }>(
    "SELECT coalesce(sum(amount_left), 0) AS n FROM container WHERE supply_id = ?",
    [supplyId],
  )!.n

describe("on a supply's page", () => {
  const page = `/setup/supplies/${known.ids.lid}`
  /** The form as it stands, with something else in it. */
  const asItIs = async (fields: Record<string, string>) => {
    const form = formsIn((await here.get(page)).text, page).find(({ method }) => method === "post")!
    const standing = form.fields.filter(({ type }) => type !== "button")
    return { ...Object.fromEntries(standing.map(({ name, value }) => [name, value])), ...fields }
  }

  test("what may be used in its place is kept with how much of it stands for 1, and undone", async () => {
    const fields = await asItIs({ "substitutes[1][supplyId]": String(flip), "substitutes[1][ratio]": "1,5" })
    expect((await post(page, fields)).status).toBe(303)
    expect(substitutes(studio).get(known.ids.lid)).toEqual([
      { supplyId: dome, ratioPpm: 1_000_000 },
      { supplyId: flip, ratioPpm: 1_500_000 },
    ])
    expect((await here.get(page)).text).toContain("May be used in its place: Dome lids, Flip lids")
    expect((await undo()).status).toBe(303)
    expect(substitutes(studio).get(known.ids.lid)).toEqual([{ supplyId: dome, ratioPpm: 1_000_000 }])
  })

  test.each([
    ["substitutes[1][ratio]", "0", "must be a number from 0.001 to 1,000"],
    ["substitutes[1][supplyId]", String(known.ids.blank), "A blank has no substitute"],
    ["substitutes[1][supplyId]", String(known.ids.partA), "A part of a resin has no substitute"],
    ["substitutes[1][supplyId]", String(dome), "is there twice"],
    ["substitutes[1][supplyId]", String(known.ids.lid), "Choose another supply"],
  ])("%s %s is refused beside its field, and nothing is changed", async (field, value, sentence) => {
    const fields = await asItIs({ "substitutes[1][supplyId]": String(flip), [field]: value })
    const answer = await post(page, fields)
    expect(answer.status).toBe(422)
    expect(answer.text).toContain(sentence)
    expect(substitutes(studio).get(known.ids.lid)).toEqual([{ supplyId: dome, ratioPpm: 1_000_000 }])
  })

  test("a blank and a part of a resin are offered none", async () => {
    for (const id of [known.ids.blank, known.ids.partA])
      expect((await here.get(`/setup/supplies/${id}`)).text).not.toContain("May be used in its place")
  })
})

describe("at a batch that lacks something", () => {
  const started = (cups: number) =>
    startBatch(studio, someone(), { versionId: known.versionId, cups, note: "" }).answer.batchId
  const inPlace = (batchId: number) =>
    batchProgress(studio, batchId).plan.layers.some((layer) => layer.uses.some((use) => "inPlaceOf" in use))

  test("the other is offered but not chosen; chosen, the batch is finished with it, and an undo gives it back", async () => {
    const id = started(5)
    const finish = `/batches/${id}/finish`
    const short = await post(finish, { good: "5" })
    expect(short.status).toBe(409)
    const offer = `use:${known.ids.lid}:${dome}`
    expect(short.text).toContain("Use Dome lids in this batch: 40 left")
    expect(short.text).toMatch(new RegExp(`value="${offer}"(?! checked)`))
    const before = [left(known.ids.lid), left(dome)]
    const answer = { "answers[0][say]": offer, "answers[0][amount]": "2", good: "5" }
    const once = { key: key(), ...answer }
    expect((await here.post(finish, once)).status).toBe(303)
    expect((await here.post(finish, once)).status).toBe(303)
    expect([left(known.ids.lid), left(dome)]).toEqual([before[0], before[1]! - 5])
    expect((await undo()).status).toBe(303)
    expect([left(known.ids.lid), left(dome)]).toEqual(before)
    expect(inPlace(id)).toBe(false)
  })

  test("too little of it is said, and taking it then is short of it in turn, with its own as a way back", async () => {
    const id = started(60)
    const short = await post(`/batches/${id}/finish`, { good: "60" })
    expect(short.text).toContain("Use Dome lids in this batch: 40 left, 60 needed")
    const again = await post(`/batches/${id}/finish`, {
      good: "60",
      "answers[0][say]": `use:${known.ids.lid}:${dome}`,
    })
    expect(again.status).toBe(409)
    expect(again.text).toContain("20 × Dome lids are missing")
    expect(again.text).toContain(`use:${known.ids.lid}:0`)
    expect(inPlace(id)).toBe(false)
  })

  test("one tap on the batch's page takes it from now on, and one takes the design's own again", async () => {
    const id = started(6)
    const page = await here.get(`/batches/${id}`)
    expect(page.text).toContain("Use Dome lids: 40 left")
    const taken = await post(`/batches/${id}/substitute`, { insteadOf: `${known.ids.lid}:${dome}` })
    expect(taken.status).toBe(303)
    expect(inPlace(id)).toBe(true)
    const after = await here.get(`/batches/${id}`)
    expect(after.text).toContain("in place of Lids &lt;b&gt;wide&lt;/b&gt;.")
    expect((await here.get(`/batches/${id}/mix-card`)).text).toContain("Dome lids")
    await post(`/batches/${id}/substitute`, { insteadOf: `${known.ids.lid}:0` })
    expect(inPlace(id)).toBe(false)
    // other batches take their own all along
    expect(inPlace(started(2))).toBe(false)
  })

  test.each([
    [() => `${known.ids.lid}:${flip}`, 409, "may not be used in place"],
    [() => `${flip}:${dome}`, 409, "not in this design"],
    [() => "dome", 422, "Choose what is used"],
  ])("what is not allowed is refused", async (insteadOf, status, sentence) => {
    const id = started(6)
    const answer = await post(`/batches/${id}/substitute`, { insteadOf: insteadOf() })
    expect([answer.status, answer.text.includes(sentence)]).toEqual([status, true])
    expect(inPlace(id)).toBe(false)
  })
})
