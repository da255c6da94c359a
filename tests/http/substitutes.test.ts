import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress, startBatch } from "../../server/batches/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { suppliesRoutes } from "../../server/supplies/routes.ts"
import {
  addSupply,
  changeSupply,
  keepResinSubstitutes,
  keepSubstitutes,
  resinSubstitutes,
  substitutes,
  supplyById,
} from "../../server/supplies/service.ts"
import { formsIn } from "../support/forms-in.ts"
import { otherResin, planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"
import { someone, type TestStudio, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio(ROOMY)
const known = planningStudio(studio)
const dome = addSupply(studio, plainSupply("Dome lids", { kind: "packaging", baseUnit: "each" }))
const slow = otherResin(studio, known.systemId)
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
  keepResinSubstitutes(studio, known.systemId, [slow.systemId])
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

describe("on a resin's page", () => {
  const page = () => `/setup/resin-systems/${known.systemId}`
  const asItIs = async (fields: Record<string, string>) => {
    const form = formsIn((await here.get(page())).text, page()).find(({ method }) => method === "post")!
    const standing = form.fields.filter(({ type }) => type !== "button")
    return { ...Object.fromEntries(standing.map(({ name, value }) => [name, value])), ...fields }
  }

  test("which resins may be used in its place is kept, shown and undone", async () => {
    const third = otherResin(studio, known.systemId, { name: "Amber cast" })
    const fields = await asItIs({ "substitutes[1][systemId]": String(third.systemId) })
    expect((await post(page(), fields)).status).toBe(303)
    expect(resinSubstitutes(studio).get(known.systemId)).toEqual([third.systemId, slow.systemId])
    expect((await here.get(page())).text).toContain("May be used in its place: Amber cast, Slow Clear")
    expect((await undo()).status).toBe(303)
    expect(resinSubstitutes(studio).get(known.systemId)).toEqual([slow.systemId])
  })

  test.each([
    [() => String(slow.systemId), "is there twice"],
    [() => String(known.systemId), "Choose another resin"],
    [() => "999", "Choose another resin"],
  ])("what it cannot be is refused beside its field, and nothing is changed", async (other, sentence) => {
    const answer = await post(
      page(),
      await asItIs({ "substitutes[1][systemId]": other(), potLifeMin: "44", name: "Typed name" }),
    )
    expect(answer.status).toBe(422)
    expect(answer.text).toContain(sentence)
    expect(answer.text).toContain("Typed name")
    expect(resinSubstitutes(studio).get(known.systemId)).toEqual([slow.systemId])
  })

  test("a form without them leaves them as they are", async () => {
    const { asksSubstitutes: _asks, ...fields } = await asItIs({})
    const without = Object.fromEntries(
      Object.entries(fields).filter(([name]) => !name.startsWith("substitutes")),
    )
    expect((await post(page(), { ...without, potLifeMin: "46" })).status).toBe(303)
    expect(resinSubstitutes(studio).get(known.systemId)).toEqual([slow.systemId])
  })
})

describe("at a batch that lacks a part of its resin", () => {
  let lacking: Listening
  let short: TestStudio
  let there: ReturnType<typeof planningStudio>
  let other: ReturnType<typeof otherResin>
  beforeEach(async () => {
    short = testStudio(ROOMY)
    there = planningStudio(short)
    other = otherResin(short, there.systemId)
    keepResinSubstitutes(short, there.systemId, [other.systemId])
    stock(short, there.ids.blank, 20)
    stock(short, there.ids.lid, 20)
    stock(short, there.ids.partA, 30_000)
    stock(short, there.ids.partB, 30_000)
    stock(short, other.partA, 90_000)
    lacking = await listenWith(short, [batchesRoutes, suppliesRoutes, historyRoutes])
  })
  afterEach(() => lacking.close())
  const started = (cups: number) =>
    startBatch(short, someone(), { versionId: there.versionId, cups, note: "" }).answer.batchId
  const send = (path: string, fields: Record<string, string>) => lacking.post(path, { key: key(), ...fields })
  const resinOf = (batchId: number) =>
    batchProgress(short, batchId).plan.layers.flatMap(({ uses }) =>
      uses.flatMap((use) => ("system" in use ? [use.system.id] : [])),
    )
  const leftHere = (supplyId: number) =>
    short.file.firstText<{ n: number }>("SELECT sum(amount_left) AS n FROM container WHERE supply_id = ?", [
      supplyId,
    ])!.n
  const offer = () => `use:resin:${there.systemId}:${other.systemId}`

  test("with one part alone on the shelf it is not offered", async () => {
    const id = started(5)
    const answer = await send(`/batches/${id}/coat`, { position: "1" })
    expect(answer.status).toBe(409)
    expect(answer.text).not.toContain("Slow Clear")
    expect((await lacking.get(`/batches/${id}`)).text).not.toContain("Use Slow Clear")
  })

  test("it is offered with what can be mixed; chosen for both parts, the coat is made with it, and undone", async () => {
    // 3 : 1: 90 mL of A go with 30 of the 50 mL of B
    stock(short, other.partB, 50_000)
    const id = started(5)
    const coat = `/batches/${id}/coat`
    const answer = await send(coat, { position: "1" })
    expect(answer.text).toContain("Use Slow Clear in place of Clear in this batch: 120 mL can be mixed")
    expect(answer.text).not.toContain("120 mL can be mixed,")
    expect(answer.text).toMatch(new RegExp(`value="${offer()}"(?! checked)`))
    // the other row says that its bottle held more, as it is chosen already
    const bottle = short.file.firstText<{ id: number }>("SELECT id FROM container WHERE supply_id = ?", [
      there.ids.partB,
    ])!.id
    const done = await send(coat, {
      position: "1",
      "answers[0][say]": offer(),
      "answers[1][say]": `more:${bottle}`,
      "answers[1][amount]": "20",
    })
    expect(done.status).toBe(303)
    // by hand: 5 × 20 mL at 3 : 1 are 75 and 25 mL
    expect([other.partA, other.partB, there.ids.partA, there.ids.partB].map(leftHere)).toEqual([
      15_000, 25_000, 30_000, 30_000,
    ])
    const last = short.file.firstText<{ id: number; summary: string }>(
      "SELECT id, summary FROM action ORDER BY id DESC LIMIT 1",
    )!
    expect(last.summary).toMatch(/^.+: 5 cups of .+, with Slow Clear in place of Clear$/)
    expect((await send(`/history/${last.id}/undo`, { returnTo: "/" })).status).toBe(303)
    expect([leftHere(other.partA), resinOf(id)]).toEqual([90_000, [there.systemId]])
  })

  test("too little of it is said with what it takes, and its own is the way back", async () => {
    stock(short, other.partB, 50_000)
    const id = started(7)
    expect((await lacking.get(`/batches/${id}`)).text).toContain("120 mL can be mixed, 140 mL needed")
    const coat = `/batches/${id}/coat`
    const first = await send(coat, { position: "1" })
    expect(first.text).toContain("120 mL can be mixed, 140 mL needed")
    const again = await send(coat, { position: "1", "answers[0][say]": offer() })
    expect(again.status).toBe(409)
    expect(again.text).toContain("15 mL of Slow Clear A")
    expect(again.text).toContain("Use Clear again in this batch: 60 mL can be mixed, 140 mL needed")
    expect(resinOf(id)).toEqual([there.systemId])
  })

  test("one tap on the batch's page takes it, said once for both parts; the card is of it; one takes its own again", async () => {
    stock(short, other.partB, 50_000)
    const id = started(5)
    const page = await lacking.get(`/batches/${id}`)
    expect(page.text).toContain("Use Slow Clear in place of Clear: 120 mL can be mixed")
    const instead = `resin:${there.systemId}:${other.systemId}`
    expect(page.text.split(`value="${instead}"`)).toHaveLength(2)
    expect((await send(`/batches/${id}/substitute`, { insteadOf: instead })).status).toBe(303)
    const after = await lacking.get(`/batches/${id}`)
    expect(after.text).toContain("Slow Clear in place of Clear. Mixed 3 : 1 by volume.")
    const card = await lacking.get(`/batches/${id}/mix-card`)
    expect(card.text).toContain("Slow Clear A")
    expect(card.text).toContain(
      "<strong>Slow Clear in place of Clear</strong> in this batch: mix it 3 : 1 by volume.",
    )
    await send(`/batches/${id}/substitute`, { insteadOf: `resin:${there.systemId}:0` })
    expect(resinOf(id)).toEqual([there.systemId])
  })

  test("a density that it lacks is said in the sentence of any mix, and nothing is changed", async () => {
    const heavy = otherResin(short, there.systemId, { name: "Heavy", ratioBasis: "mass" })
    stock(short, heavy.partA, 90_000)
    stock(short, heavy.partB, 90_000)
    keepResinSubstitutes(short, there.systemId, [heavy.systemId])
    changeSupply(short, heavy.partB, { ...supplyById(short, heavy.partB), densityMgPerMl: null })
    const id = started(5)
    expect((await lacking.get(`/batches/${id}`)).text).toContain(
      "Use Heavy in place of Clear: A 90 mL, B 90 mL left",
    )
    const answer = await send(`/batches/${id}/substitute`, {
      insteadOf: `resin:${there.systemId}:${heavy.systemId}`,
    })
    expect(answer.status).toBe(422)
    expect(answer.text).toContain("Heavy is mixed by weight, so the density of Heavy B is needed")
    expect(resinOf(id)).toEqual([there.systemId])
  })

  test.each([
    [() => `resin:${there.systemId}:999`, 409, "may not be used in place"],
    [() => `resin:${other.systemId}:${there.systemId}`, 409, "not in this design"],
    [() => `resin:${there.systemId}`, 422, "Choose what is used"],
  ])("what is not allowed is refused", async (insteadOf, status, sentence) => {
    const id = started(5)
    const answer = await send(`/batches/${id}/substitute`, { insteadOf: insteadOf() })
    expect([answer.status, answer.text.includes(sentence)]).toEqual([status, true])
    expect(resinOf(id)).toEqual([there.systemId])
  })
})
