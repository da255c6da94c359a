import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { type OnHand, onHand } from "../../server/ledger/on-hand.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { countContainer } from "../../server/shelf/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import type { Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
const versionOf = (name: string) => String(designs(studio).find((design) => design.name === name)!.versionId)

let here: Listening
let keys = 0
const key = () => `batches-test-${++keys}`
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, tracingRoutes, shelfRoutes, historyRoutes])
})
afterAll(() => here.close())

async function start(name: string, cups: number): Promise<number> {
  const answer = await here.post("/batches", { key: key(), versionId: versionOf(name), cups: String(cups) })
  expect(answer.status).toBe(303)
  return Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
}
const progress = (id: number) => batchProgress(studio, id)

describe("a batch", () => {
  test("is coated layer by layer, and the same tap twice takes once", async () => {
    const id = await start("Sea glass", 2)
    const tap = { key: key(), position: "1" }
    const before = file.firstText<{ n: number }>("SELECT count(*) AS n FROM movement")!.n
    expect((await here.post(`/batches/${id}/coat`, tap)).status).toBe(303)
    const after = file.firstText<{ n: number }>("SELECT count(*) AS n FROM movement")!.n
    expect((await here.post(`/batches/${id}/coat`, tap)).status).toBe(303)
    expect(file.firstText<{ n: number }>("SELECT count(*) AS n FROM movement")!.n).toBe(after)
    expect(after).toBeGreaterThan(before)
    expect(progress(id).cups.map((cup) => cup.layersDone)).toEqual([1, 1])
    const page = await here.get(`/batches/${id}`)
    expect(page.text).toContain("Next: White base on 2 of 2 cups.")
    expect(keysIn(page.text).length).toBeGreaterThan(1)
  })

  test("a layer is put on some of its cups now and on the others later", async () => {
    const id = await start("Sea glass", 3)
    const [first, second, third] = progress(id).cups
    const some = { key: key(), position: "1", cupIds: ["", String(first!.id), String(third!.id)] }
    expect((await here.post(`/batches/${id}/coat`, some)).status).toBe(303)
    expect(progress(id).cups.map((cup) => cup.layersDone)).toEqual([1, 0, 1])
    expect((await here.get(`/batches/${id}`)).text).toContain("Next: Scuff and wipe on 1 of 3 cups.")
    const twice = await here.post(`/batches/${id}/coat`, { ...some, key: key() })
    expect([twice.status, twice.text.includes("is not waiting for Scuff and wipe")]).toEqual([409, true])
    const none = await here.post(`/batches/${id}/coat`, { key: key(), position: "1", cupIds: "" })
    expect([none.status, none.text.includes("Choose the cups first.")]).toEqual([422, true])
    await here.post(`/batches/${id}/coat`, { key: key(), position: "1", cupIds: [String(second!.id)] })
    expect(progress(id).doneAt.get(1)).toMatchObject({ cups: 3 })
  })

  test("refused for its time, the form still has the cups that were chosen and what was typed", async () => {
    const id = await start("Sea glass", 3)
    const [first, second, third] = progress(id).cups
    const chosen = ["", String(first!.id), String(third!.id)]
    const sent = { key: key(), position: "1", cupIds: chosen, happenedAt: "2031-03-01T10:00" }
    const refused = await here.post(`/batches/${id}/coat`, sent)
    expect([refused.status, refused.text.includes("That time is still to come.")]).toEqual([422, true])
    const form = refused.text.slice(refused.text.indexOf('id="coat-next"'), refused.text.indexOf("Done: "))
    expect(form).toContain('<details class="fold" open><summary>Anything different?')
    expect(form).toMatch(/name="happenedAt"[^>]* value="2031-03-01T10:00"/)
    const ticked = [...form.matchAll(/name="cupIds" value="(\d+)" checked/g)].map(([, cup]) => cup)
    expect(ticked).toEqual(chosen.slice(1))
    expect(form).toContain(`name="cupIds" value="${second!.id}">`)
    expect(progress(id).doneAt.size).toBe(0)
  })

  test("cups to strip are asked for beside their boxes, with the layer that was chosen", async () => {
    const id = await start("Sea glass", 2)
    await here.post(`/batches/${id}/coat`, { key: key(), position: "1" })
    const coated = file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
    const refused = await here.post(`/batches/${id}/strip`, { key: key(), _form: "strip", fromPosition: "1" })
    expect(refused.status).toBe(422)
    const strip = refused.text.slice(refused.text.indexOf('<details class="fold" open><summary>Strip a cup'))
    expect(strip).toContain('<p class="error" id="strip-cups-error">Choose the cups to strip first.</p>')
    expect(strip).toContain('<option value="1" selected>')
    // the wipes are counted on below
    await here.post(`/history/${coated}/undo`, { key: key(), returnTo: "/" })
  })

  test("what each of two containers gives is said before the coat is done, and comes to what it takes", async () => {
    const id = await start("Sea glass", 2)
    const blank = file.firstText<{ code: string; amount: number }>(
      "SELECT c.code, c.amount_left AS amount FROM container c JOIN supply s ON s.id = c.supply_id WHERE s.name = 'Slim 20 oz blank' AND c.amount_left > 1 AND c.held = 0 ORDER BY c.id",
    )!
    const count = (amount: number) =>
      countContainer(studio, { device: "test", key: key() }, { code: blank.code, amount, basis: "counted" })
    count(1)
    await here.post(`/containers/${blank.code}/bench`, { key: key(), returnTo: `/batches/${id}` })
    const page = (await here.get(`/batches/${id}`)).text
    const take = page.slice(page.indexOf("Slim 20 oz blank"), page.indexOf("Why this much?"))
    expect([...take.matchAll(/(\d+) from here/g)].map(([, n]) => n)).toEqual(["1", "1"])
    count(blank.amount)
  })

  test("an undone layer is to be done again: nothing of it is shown as done", async () => {
    const id = await start("Sea glass", 2)
    const before = JSON.stringify(onHand(file, "UTC"))
    await here.post(`/batches/${id}/coat`, { key: key(), position: "1" })
    const actionId = file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
    expect((await here.post(`/history/${actionId}/undo`, { key: key(), returnTo: "/" })).status).toBe(303)
    expect(progress(id)).toMatchObject({ next: { layer: { position: 1 } }, doneAt: new Map() })
    expect(JSON.stringify(onHand(file, "UTC"))).toBe(before)
    expect(progress(id).cups.map((cup) => cup.layersDone)).toEqual([0, 0])
  })

  test("a bottle is put on the bench with one tap on the batch's page, and the next coat comes from it", async () => {
    const id = await start("Sea glass", 2)
    const page = (await here.get(`/batches/${id}`)).text
    const wipes = page.slice(page.indexOf("Lint-free wipes"))
    const used = /<span class="code">(\w+)<\/span> <small>[^<]*would be used/.exec(wipes)![1]!
    const other = /<span class="code">(\w+)<\/span> <small>[^<]*sealed/.exec(wipes)![1]!
    const tap = { key: key(), returnTo: `/batches/${id}` }
    const answer = await here.post(`/containers/${other}/bench`, tap)
    expect([answer.status, answer.headers.location]).toEqual([303, `/batches/${id}`])
    expect((await here.get(`/batches/${id}`)).text).toContain(`aria-label="On the bench: ${other}"`)
    await here.post(`/batches/${id}/coat`, { key: key(), position: "1" })
    const from = file
      .allText<{ code: string }>(
        "SELECT c.code FROM movement m JOIN container c ON c.id = m.container_id WHERE m.action_id = (SELECT max(id) FROM action)",
      )
      .map((row) => row.code)
    expect(from).toContain(other)
    expect(from).not.toContain(used)
  })

  test("has cups scrapped where they stand", async () => {
    const id = await start("Sea glass", 2)
    const [first] = progress(id).cups
    await here.post(`/batches/${id}/scrap`, { key: key(), cupId: String(first!.id) })
    expect(progress(id).cups.map((cup) => cup.state)).toEqual(["scrapped", "in work"])
  })
})

describe("finishing", () => {
  const finish = (id: number, fields: Record<string, string | string[]>) =>
    here.post(`/batches/${id}/finish`, { key: key(), ...fields })
  const marks = (id: number, said: readonly [outcome: string, afterLayer?: string][]) =>
    Object.fromEntries(
      progress(id).cups.flatMap((cup, index) => [
        [`outcomes[${index}][cupId]`, String(cup.id)],
        [`outcomes[${index}][outcome]`, said[index]![0]],
        [`outcomes[${index}][afterLayer]`, said[index]![1] ?? ""],
      ]),
    )
  const states = (id: number) => progress(id).cups.map((cup) => [cup.state, cup.layersDone])

  test("asks only how many are good when all are, and the same tap twice finishes once", async () => {
    const id = await start("Sea glass", 2)
    expect((await here.get(`/batches/${id}`)).text).toMatch(/name="good"[^>]* value="2"/)
    const fields = { key: key(), good: "2" }
    expect((await finish(id, fields)).status).toBe(303)
    expect(states(id)).toEqual([
      ["good", 6],
      ["good", 6],
    ])
    const actions = file.firstText("SELECT count(*) AS n FROM action")
    expect((await finish(id, fields)).status).toBe(303)
    expect(file.firstText("SELECT count(*) AS n FROM action")).toEqual(actions)
  })

  test("asks which cups when fewer are good; each is a second, or used only the layers it got", async () => {
    const id = await start("Sea glass", 4)
    const asked = await finish(id, { good: "2" })
    expect(asked.status).toBe(422)
    expect(asked.text).toContain("2 of the 4 cups are not good: say which, and what became of them.")
    expect(asked.text).toContain('name="good" value="2"')
    expect(states(id)).toEqual(Array(4).fill(["in work", 0]))

    const done = await finish(id, {
      good: "2",
      ...marks(id, [["scrapped", "3"], ["good"], ["second"], ["good"]]),
    })
    expect(done.status).toBe(303)
    expect(states(id)).toEqual([
      ["scrapped", 3],
      ["good", 6],
      ["second", 6],
      ["good", 6],
    ])
  })

  test("a scrapped cup needs the layer it got to; what was marked stays marked", async () => {
    const id = await start("Sea glass", 2)
    const answer = await finish(id, marks(id, [["scrapped"], ["good"]]))
    expect(answer.status).toBe(422)
    expect(answer.text).toContain("Say after which layer it was scrapped")
    expect(answer.text).toMatch(/value="scrapped" checked/)
    expect(states(id)).toEqual(Array(2).fill(["in work", 0]))
  })

  test("a number and marks that do not go together are asked about once more", async () => {
    const id = await start("Sea glass", 2)
    const twoBad = marks(id, [["second"], ["second"]])
    const answer = await finish(id, { good: "1", ...twoBad })
    expect(answer.text).toContain("You said 1 are good, but with these marks 0 of 2 are.")
    expect(answer.text).toContain('name="good" value="0"')
    expect((await finish(id, { good: "0", ...twoBad })).status).toBe(303)
    expect(states(id).map(([state]) => state)).toEqual(["second", "second"])
  })

  test.each([
    ["more good ones than cups", { good: "3" }, "Only 2 cups are in work."],
    ["less than none", { good: "-1" }, "How many good must be a whole number from 0 to 500."],
    ["no number", { good: "<script>" }, "How many good must be a whole number from 0 to 500."],
    [
      "an outcome there is not",
      { "outcomes[0][cupId]": "1", "outcomes[0][outcome]": "sent" },
      "What became of it: choose one.",
    ],
    [
      "a cup of another batch",
      { "outcomes[0][cupId]": "1", "outcomes[0][outcome]": "second" },
      "not in work in this batch",
    ],
  ])("%s is refused with a sentence and finishes nothing", async (_what, fields, sentence) => {
    const id = await start("Sea glass", 2)
    const answer = await finish(id, fields)
    expect(answer.status).toBeGreaterThanOrEqual(400)
    expect(answer.text).toContain(sentence)
    expect(answer.text).not.toContain("<script>")
    expect(states(id)).toEqual(Array(2).fill(["in work", 0]))
  })
})

describe("when the shelf is short", () => {
  /** Leaves so much of a supply in its last usable container and nothing in the others. */
  function leaveOnly(supply: string, amount: number) {
    const usable = (one: OnHand) => one.supply === supply && (one.useBy === null || one.useBy >= "2026-12-01")
    for (const { code } of onHand(file, "UTC").filter(usable))
      countContainer(studio, bench(), { code, amount: 0, basis: "counted" })
    const last = file.firstText<{ containerId: number; code: string }>(
      `SELECT c.id AS containerId, c.code FROM container c JOIN supply s ON s.id = c.supply_id
       WHERE s.name = ? AND c.amount_left = 0 ORDER BY c.id DESC LIMIT 1`,
      [supply],
    )!
    if (amount > 0) countContainer(studio, bench(), { code: last.code, amount, basis: "counted" })
    return last
  }
  const bench = () => ({ device: "test", key: key() })
  const chosen = (html: string) =>
    Object.fromEntries(
      [...html.matchAll(/name="(answers\[\d+\])\[amount\]"[^>]* value="([^"]+)"/g)].flatMap(
        ([, row, amount]) => {
          const say = new RegExp(`name="${row!.replace(/[[\]]/g, "\\$&")}\\[say\\]" value="([^"]+)" checked`)
          return [
            [`${row}[amount]`, amount!],
            [`${row}[say]`, say.exec(html)![1]!],
          ]
        },
      ),
    )

  test("it says for how many cups, offers those it covers, and one tap says that the bottle held more", async () => {
    const id = await start("Sea glass", 6)
    leaveOnly("Lint-free wipes", 4)
    const before = JSON.stringify(onHand(file, "UTC"))
    const refused = await here.post(`/batches/${id}/coat`, { key: key(), position: "1" })
    expect(refused.status).toBe(409)
    expect(refused.text).toContain(
      "The book says 2 × Lint-free wipes are missing for 2 of 6 cups; it covers 4.",
    )
    expect(refused.text).toContain("Only the 4 cups it covers")
    expect(JSON.stringify(onHand(file, "UTC"))).toBe(before)

    const answer = await here.post(`/batches/${id}/coat`, {
      key: key(),
      position: "1",
      ...chosen(refused.text),
    })
    expect(answer.status).toBe(303)
    expect(progress(id).cups.map((cup) => cup.layersDone)).toEqual(Array(6).fill(1))
    const gains = "kind = 'count' AND basis = 'estimated' AND action_id = (SELECT max(id) FROM action)"
    expect(file.allText(`SELECT amount FROM movement WHERE ${gains}`)).toEqual([{ amount: 2 }])
  })

  test("a bottle the book calls empty can have held more too; undone, it is empty again", async () => {
    const id = await start("Sea glass", 2)
    const { containerId, code } = leaveOnly("Alcohol 99 %", 0)
    const refused = await here.post(`/batches/${id}/coat`, { key: key(), position: "1" })
    expect(refused.text).toContain(`${code} held more: the book says it is empty`)
    const answer = await here.post(`/batches/${id}/coat`, {
      key: key(),
      position: "1",
      "answers[0][say]": `more:${containerId}`,
      "answers[0][amount]": "25 mL",
      ...wipesToo(refused.text),
    })
    expect(answer.status).toBe(303)
    const left = () => onHand(file, "UTC").find((one) => one.code === code)?.amountLeft
    expect(left()).toBe(15_000)
    const actionId = file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
    expect((await here.post(`/history/${actionId}/undo`, { key: key(), returnTo: "/" })).status).toBe(303)
    expect(left()).toBeUndefined()
    const again = await here.post(`/batches/${id}/coat`, { key: key(), position: "1" })
    expect(again.text).toContain(`${code} held more: the book says it is empty`)
  })
  const wipesToo = (html: string) =>
    Object.fromEntries(Object.entries(chosen(html)).filter(([name]) => !name.startsWith("answers[0]")))

  test("one past its day is used when the person insists, and the coat says so", async () => {
    const past = onHand(file, "UTC").find(
      (one) => one.supply === "White primer" && one.useBy !== null && one.useBy < "2026-12-01",
    )
    countContainer(studio, bench(), { code: past!.code, amount: 50_000, basis: "weighed" })
    const id = await start("Sea glass", 1)
    leaveOnly("White primer", 0)
    const coat = (fields: Record<string, string>) =>
      here.post(`/batches/${id}/coat`, { key: key(), position: "2", ...fields })
    const stocked = await here.post(`/batches/${id}/coat`, { key: key(), position: "1" })
    if (stocked.status !== 303)
      await here.post(`/batches/${id}/coat`, { key: key(), position: "1", ...chosen(stocked.text) })
    const refused = await coat({})
    expect(refused.text).toContain(`Use ${past!.code}`)
    expect((await coat({ "answers[0][say]": `past:${past!.containerId}` })).status).toBe(303)
    expect(file.firstText("SELECT insisted FROM coat ORDER BY id DESC LIMIT 1")).toEqual({ insisted: 1 })
  })

  test.each([
    ["a bottle of something else", { say: "more:1", amount: "1 mL" }],
    ["a bottle that is not there", { say: "more:999999", amount: "1 mL" }],
    ["no amount", { say: "more:SHORT", amount: "" }],
    ["an absurd amount", { say: "more:SHORT", amount: "900 L" }],
    ["a negative amount", { say: "more:SHORT", amount: "-4" }],
    ["an answer there is not", { say: "less:1; DROP TABLE cup", amount: "1" }],
  ])("%s as an answer is refused and takes nothing", async (_what, { say, amount }) => {
    const id = await start("Sea glass", 2)
    const short = leaveOnly("Alcohol 99 %", 0)
    const before = JSON.stringify(onHand(file, "UTC"))
    const answer = await here.post(`/batches/${id}/coat`, {
      key: key(),
      position: "1",
      "answers[0][say]": say.replace("SHORT", String(short.containerId)),
      "answers[0][amount]": amount,
    })
    expect(answer.status).toBeGreaterThanOrEqual(400)
    expect(answer.text).not.toContain("DROP TABLE cup</")
    expect(JSON.stringify(onHand(file, "UTC"))).toBe(before)
  })
})

describe("when the shelf is very short", () => {
  test("finishing says what is missing for how many cups and changes nothing", async () => {
    const id = await start("Sea glass", 40)
    const before = JSON.stringify(onHand(file, "UTC"))
    const answer = await here.post(`/batches/${id}/finish`, { key: key(), good: "40" })
    expect(answer.status).toBe(409)
    expect(answer.text).toMatch(/The book says .+ missing for \d+ of 40 cups/)
    expect(JSON.stringify(onHand(file, "UTC"))).toBe(before)
  })

  test("an address left over from a refusal leads back to the batch", async () => {
    expect((await here.get("/batches/1/coat")).headers.location).toBe("/batches/1")
    const answer = await here.get("/batches/1/finish")
    expect([answer.status, answer.headers.location]).toEqual([302, "/batches/1"])
  })
})

describe("bad input gets a sentence and changes nothing", () => {
  const actions = () => file.firstText<{ n: number }>("SELECT count(*) AS n FROM action")!.n

  test.each([
    ["no cups", { cups: "0" }, "How many cups must be a whole number from 1 to 500."],
    ["absurdly many", { cups: "99999" }, "How many cups must be a whole number from 1 to 500."],
    ["no number", { cups: "<b>x</b>" }, "How many cups must be a whole number from 1 to 500."],
    ["no such design", { versionId: "99999" }, "There is no such"],
  ])("starting with %s", async (_what, wrong, sentence) => {
    const before = actions()
    const answer = await here.post("/batches", {
      key: key(),
      versionId: versionOf("Sea glass"),
      cups: "1",
      ...wrong,
    })
    expect(answer.status).toBeGreaterThanOrEqual(400)
    expect(answer.text).toContain(sentence)
    expect(answer.text).not.toContain("<b>x</b>")
    expect(actions()).toBe(before)
  })

  test("a layer out of turn, a cup of another batch, a key used for something else", async () => {
    const id = await start("Sea glass", 1)
    const before = actions()
    expect((await here.post(`/batches/${id}/coat`, { key: key(), position: "3" })).text).toContain(
      "comes later",
    )
    expect((await here.post(`/batches/${id}/scrap`, { key: key(), cupId: "1" })).text).toContain(
      "Choose the cups first.",
    )
    const used = file.firstText<{ key: string }>("SELECT key FROM action ORDER BY id DESC LIMIT 1")!.key
    const again = await here.post(`/batches/${id}/coat`, { key: used, position: "1" })
    expect([again.status, again.text.includes("already sent with other contents")]).toEqual([409, true])
    expect(actions()).toBe(before)
  })
})

describe("tracing", () => {
  test("a cup's page names its lots, a lot's page names the cup, both as CSV too", async () => {
    const serial = file.firstText<{ serial: string }>(
      "SELECT serial FROM cup WHERE state = 'sent' LIMIT 1",
    )!.serial
    const cup = await here.get(`/cups/${serial}`)
    const lot = /href="(\/lots\/\d+)"/.exec(cup.text)![1]!
    expect((await here.get(lot)).text).toContain(serial)
    const csv = await here.get(`${lot}/trace.csv`)
    expect([csv.headers["content-type"], csv.text.includes(serial)]).toEqual([
      "text/csv; charset=utf-8",
      true,
    ])
    expect((await here.get(`/cups/${serial}/trace.csv`)).text).toMatch(new RegExp(`\r\n${serial},1,`))
  })

  test.each(["/cups/T9999", "/cups/%3Cscript%3E", "/lots/999999", "/lots/x", "/cups/T9999/trace.csv"])(
    "%s is not there, and says so",
    async (path) => {
      const answer = await here.get(path)
      expect(answer.status).toBe(404)
      expect(answer.text).not.toContain("<script>")
    },
  )
})
