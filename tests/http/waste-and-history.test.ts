import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { historyOf } from "../../server/history/service.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { balanceOf, traceLot } from "../../server/tracing/service.ts"
import { verify } from "../../server/verify/service.ts"
import { formsIn } from "../support/forms-in.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [shelfRoutes, historyRoutes, tracingRoutes])
})
afterAll(() => here.close())

const key = () => crypto.randomUUID()
const left = (code: string) =>
  file.firstText<{ n: number }>("SELECT amount_left AS n FROM container WHERE code = ?", [code])!.n
const last = () =>
  file.firstText<{ id: number; kind: string; summary: string; reason: string }>(
    "SELECT id, kind, summary, reason FROM action ORDER BY id DESC LIMIT 1",
  )!
const resins = onHand(file, "America/Chicago").filter(
  (one) => one.kind === "resin" && one.amountLeft > 100_000,
)
const { code, containerId } = resins[0]!
const { lot_id: lotId } = file.firstText<{ lot_id: number }>("SELECT lot_id FROM container WHERE id = ?", [
  containerId,
])!
const goes = (fields: Record<string, string>) =>
  here.post(`/containers/${code}/write-off`, { key: key(), amount: "1 mL", reason: "", ...fields })

describe("why something goes, in one tap", () => {
  test.each([
    ["Spilled", "waste", "Spilled 1 mL of "],
    ["Test piece", "waste", "Used for a test piece 1 mL of "],
    ["Given away", "write-off", "Gave away 1 mL of "],
    ["Gone off", "write-off", "Threw away 1 mL of "],
    ["Set in the bottle", "write-off", "Threw away 1 mL of "],
    ["Can clogged", "write-off", "Threw away 1 mL of "],
    ["Damaged", "write-off", "Threw away 1 mL of "],
    ["Disposed of", "write-off", "Disposed of 1 mL of "],
  ])("%s", async (why, kind, says) => {
    const [before, balance] = [left(code), balanceOf(studio, traceLot(studio, lotId))]
    await goes({ why }).expect(303)
    expect(last()).toMatchObject({ kind, reason: why })
    expect(last().summary).toContain(says)
    expect(left(code)).toBe(before - 1_000)
    expect(balanceOf(studio, traceLot(studio, lotId)).wasted).toBe(balance.wasted + 1_000)
  })

  test("what else was said stands with it; a reason in words alone counts as said", async () => {
    await goes({ why: "Spilled", reason: "The tray fell" }).expect(303)
    expect(last()).toMatchObject({ reason: "Spilled" })
    expect(last().summary).toMatch(/: The tray fell$/)
    await goes({ why: "Something else", reason: "Lent to a friend" }).expect(303)
    expect(last()).toMatchObject({ kind: "write-off", reason: "Lent to a friend" })
  })

  test("no reason at all, or one that is not offered, is refused and nothing goes", async () => {
    const before = left(code)
    expect((await goes({}).expect(422)).text).toContain("Tap why it goes.")
    await goes({ why: "Stolen by gulls" }).expect(422)
    expect(left(code)).toBe(before)
  })

  test("every reason stands on the page, and uncured resin is not let go without the reminder", async () => {
    const { text } = await here.get(`/containers/${code}`)
    for (const why of ["Spilled", "Test piece", "Given away", "Gone off", "Disposed of", "Something else"])
      expect(text).toContain(`value="${why}"`)
    expect(text).toContain('value="Set in the bottle"')
    // nothing clogs but a can, and nothing sets in it
    expect(text).not.toContain('value="Can clogged"')
    const can = onHand(file, "America/Chicago").find((one) => one.keptBack > 0)!
    const ofCan = (await here.get(`/containers/${can.code}`)).text
    expect(ofCan).toContain('value="Can clogged"')
    expect(ofCan).not.toContain('value="Set in the bottle"')
    expect(text).toContain("not down the drain")
    const answer = await goes({ why: "Disposed of" })
    const after = await here.get(`/containers/${code}`).set("Cookie", cookiesOf(answer))
    expect(after.text).toContain("safety data sheet (section 13, disposal)")
  })

  test("what is past its day leaves whole in one tap, with the reminder before it", async () => {
    const old = resins[1]!.code
    file.runText(
      "UPDATE lot SET expires_on = '2026-11-01', expiry_basis = 'label' WHERE id = (SELECT lot_id FROM container WHERE code = ?)",
      [old],
    )
    const { text } = await here.get(`/containers/${old}`).expect(200)
    expect(text).toContain("Gone off: take all")
    const form = formsIn(text, `/containers/${old}`).find(
      (one) =>
        one.path.endsWith("/write-off") &&
        one.fields.some(
          ({ name, value, type }) => name === "why" && value === "Gone off" && type === "hidden",
        ),
    )!
    await here
      .post(
        form.path,
        Object.fromEntries(
          form.fields.filter(({ type }) => type !== "button").map(({ name, value }) => [name, value]),
        ),
      )
      .expect(303)
    expect(left(old)).toBe(0)
    expect(last()).toMatchObject({ kind: "write-off", reason: "Gone off" })
  })
})

describe("undone with a reason, and the history of each thing", () => {
  test("an undo says why, in the history and beside what it took back", async () => {
    await goes({ why: "Spilled" }).expect(303)
    const before = left(code)
    const undone = last().id
    const page = await here.get(`/history/of/container/${containerId}`).expect(200)
    const form = formsIn(page.text, "/history").find(
      (one) => one.path === `/history/${undone}/undo` && one.fields.some(({ name }) => name === "reason"),
    )!
    const fields = Object.fromEntries(
      form.fields.filter(({ type }) => type !== "button").map(({ name, value }) => [name, value]),
    )
    const sent = await here.post(form.path, { ...fields, reason: "It was the other bottle" }).expect(303)
    expect(sent.headers.location).toBe(`/history/of/container/${containerId}`)
    expect(left(code)).toBe(before + 1_000)
    const after = (await here.get(`/history/of/container/${containerId}`)).text
    expect(after).toContain("why: It was the other bottle")
  })

  test("a cup's tells every coat on it, from which device, and its order; a lot's that it came and was held", async () => {
    const cup = file.firstText<{ id: number; serial: string }>(
      "SELECT id, serial FROM cup WHERE state = 'sent' ORDER BY id LIMIT 1",
    )!
    const coats = file.allText<{ id: number }>(
      "SELECT DISTINCT c.action_id AS id FROM coat_cup k JOIN coat c ON c.id = k.coat_id WHERE k.cup_id = ?",
      [cup.id],
    )
    const told = historyOf(studio, "cup", cup.id, 1)
    const ids = told.entries.map((one) => one.actionId)
    for (const { id } of coats) expect(ids).toContain(id)
    expect(told.entries.every((one) => one.device !== "" && one.summary !== "")).toBe(true)
    await here.get(`/history/of/cup/${cup.id}`).expect(200)

    await here.post(`/lots/${lotId}/hold`, { key: key(), reason: "A cup yellowed" }).expect(303)
    const held = last().id
    const lot = historyOf(studio, "lot", lotId, 1).entries
    expect(lot[0]).toMatchObject({ actionId: held, reason: "A cup yellowed" })
    expect(lot.some((one) => one.kind === "receive")).toBe(true)
    expect((await here.get(`/history/of/lot/${lotId}`)).text).toContain("A cup yellowed")
  })

  test("each kind of thing has one; what is none has none", async () => {
    for (const kind of ["container", "lot", "cup", "batch", "order", "delivery", "supply", "design"])
      await here.get(`/history/of/${kind}/1`).expect(200)
    await here.get("/history/of/gull/1").expect(404)
    await here.get("/history/of/cup/999999").expect(404)
    await here.get("/history/of/cup/x").expect(404)
  })
})

test("after all of it the book agrees with every rule", () => {
  expect(verify(file)).toEqual([])
})
