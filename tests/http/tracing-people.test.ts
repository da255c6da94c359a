import { parse } from "csv-parse/sync"
import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { undo } from "../../server/history/service.ts"
import { lookupRoutes } from "../../server/lookup/routes.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { openContainer } from "../../server/shelf/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { cupTraceCsv, lotTraceCsv, traceCup, traceLot } from "../../server/tracing/service.ts"
import { twoCupsOfOneMix } from "../support/one-mix.ts"
import { addOne, receiveSome } from "../support/shelf-fixtures.ts"
import { someone, TODAY } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const key = () => crypto.randomUUID()
/** The tags of a page taken out, its spaces closed up. */
const words = (html: string) => html.replace(/<svg.*?<\/svg>|<[^>]+>/gs, " ").replace(/\s+/g, " ")

describe("two cups of one mix, its A and B of one kit with one number", () => {
  const { studio, batch } = twoCupsOfOneMix()
  const [first, second] = batch.cups.map((cup) => cup.serial) as [string, string]
  const held = () => studio.file.firstText<{ n: number }>("SELECT sum(held) AS n FROM lot")?.n
  const lastAction = () => studio.file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")?.id ?? 0
  let here: Listening
  beforeAll(async () => {
    here = await listenWith(studio, [tracingRoutes, shelfRoutes, lookupRoutes, historyRoutes])
  })
  afterAll(() => here.close())

  test("which resin is on a cup, with its lot and the other cups that have it, is the first thing on its page", async () => {
    const { text } = await here.get(`/cups/${first}`).expect(200)
    const main = words(text.slice(text.indexOf("<main")))
    expect(main).toContain("Part A, lot L1 in 1 other cup Part B, lot L1 in 1 other cup")
    expect(main.indexOf("Part A, lot L1")).toBeLessThan(main.indexOf("Materials"))
    expect(text).toMatch(/<a href="\/lots\/\d+"><span class="lot-line">Part A/)
    // each layer waits under its name
    expect(text.indexOf('<details class="fold"')).toBeGreaterThan(text.indexOf("Layer by layer"))
  })

  test("two lots of one number that are the parts of one resin are held in one tap and let go by one undo", async () => {
    const { text } = await here.get("/go?code=l1").expect(200)
    expect(words(text)).toContain("Part A and Part B carry the same number")
    const [, path = "", otherId = ""] =
      /action="(\/lots\/\d+\/hold-both)".*?name="otherId" value="(\d+)"/s.exec(text) ?? []
    expect(held()).toBe(0)
    await here.post(path, { key: key(), otherId }).expect(303)
    expect(held()).toBe(2)
    expect((await here.get("/go?code=L1")).text).toContain("Both are held.")
    await here.post(path, { key: key(), otherId }).expect(409)
    undo(studio, someone(), lastAction())
    expect(held()).toBe(0)
  })

  test("the lot's own page shows the other part and holds both; one held before stays held after the undo", async () => {
    const [a, b] = studio.file.allText<{ id: number }>("SELECT id FROM lot WHERE number = 'L1' ORDER BY id")
    await here.post(`/lots/${a?.id}/hold`, { key: key() }).expect(303)
    const { text } = await here.get(`/lots/${a?.id}`).expect(200)
    expect(words(text)).toContain("The same number stands on its other part: Part B, lot L1")
    expect(text).toContain("Hold the other half too: Part B, lot L1")
    await here.post(`/lots/${a?.id}/hold-both`, { key: key(), otherId: String(b?.id) }).expect(303)
    expect(held()).toBe(2)
    undo(studio, someone(), lastAction())
    expect(held()).toBe(1)
    await here.post(`/lots/${a?.id}/release`, { key: key() }).expect(303)
  })

  test("lots that are no pair are not held together", async () => {
    const glitter = addOne(studio, { name: "Glitter", kind: "glitter" })
    const { lotId } = receiveSome(studio, glitter, { number: "L1", receivedOn: TODAY })
    const a = studio.file.firstText<{ id: number }>("SELECT min(id) AS id FROM lot WHERE number = 'L1'")
    await here.post(`/lots/${a?.id}/hold-both`, { key: key(), otherId: String(lotId) }).expect(404)
    expect(held()).toBe(0)
  })

  test("a lot whose receipt was undone stands neither among the lots nor behind its number", async () => {
    const { actionId } = receiveSome(studio, addOne(studio, { name: "Sealer" }), {
      number: "GONE-1",
      receivedOn: TODAY,
    })
    expect((await here.get("/trace")).text).toContain("GONE-1")
    undo(studio, someone(), actionId)
    expect((await here.get("/trace")).text).not.toContain("GONE-1")
    await here.get("/go?code=GONE-1").expect(404)
  })

  test("a day reckoned from shelf life is never said as if it were printed; an opened bottle shows its earlier one", async () => {
    const varnish = addOne(studio, { name: "Varnish", openLife: { unit: "months", value: 1 } })
    const reckoned = receiveSome(studio, varnish, { number: "V-1", receivedOn: TODAY })
    const printed = receiveSome(studio, varnish, {
      number: "V-2",
      expiresOn: "2030-01-31",
      receivedOn: TODAY,
    })
    const page = async (lotId: number) => words((await here.get(`/lots/${lotId}`).expect(200)).text)
    expect(await page(reckoned.lotId)).toContain("not printed: reckoned from how long it keeps unopened")
    expect(await page(printed.lotId)).toContain("as printed on the label")
    expect(await page(printed.lotId)).not.toContain("earlier than its lot")
    openContainer(studio, someone(), printed.codes[0] ?? "")
    expect(await page(printed.lotId)).toContain("earlier than its lot: opened or topped up")
    const basisIn = (lotId: number) => lotTraceCsv(traceLot(studio, lotId)).split("\r\n")[0]
    expect(basisIn(reckoned.lotId)).toContain("expires_on,expiry_basis")
  })

  test("the CSV of a cup gives amounts in millilitres and times of the studio's clock beside the exact ones", () => {
    const csv = cupTraceCsv(traceCup(studio, second), { units: "metric", timeZone: "America/Chicago" })
    const rows: Record<string, string>[] = parse(csv, { columns: true })
    const resin = rows.find((row) => row.supply === "Part A")
    // 25 mL on two cups
    expect(resin).toMatchObject({ quantity: "12.5", quantity_unit: "mL", amount: "12500", unit: "uL" })
    const utc = Temporal.Instant.from(resin?.applied_at_utc ?? "")
    expect(resin?.applied_at).toBe(
      utc
        .toZonedDateTimeISO("America/Chicago")
        .toPlainDateTime()
        .toString({ smallestUnit: "minute" })
        .replace("T", " "),
    )
    expect(resin?.time_zone).toBe("America/Chicago")
    expect(resin?.expiry_basis).not.toBe("")
  })
})

describe("buyers and orders", () => {
  const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
  const file = openStudioFile(":memory:")
  loadDemo(file, now)
  const studio = { file, now: () => now }
  const buyer = file.firstText<{ name: string; orderId: number; serial: string }>(
    `SELECT b.name, o.id AS orderId, c.serial FROM buyer b JOIN customer_order o ON o.buyer_id = b.id
     JOIN order_line l ON l.order_id = o.id JOIN cup c ON c.order_line_id = l.id WHERE c.state = 'sent' LIMIT 1`,
  )
  let here: Listening
  beforeAll(async () => {
    here = await listenWith(studio, [tracingRoutes, lookupRoutes])
  })
  afterAll(() => here.close())
  const go = (said: string) => here.get(`/go?${new URLSearchParams({ code: said })}`)

  test("a buyer's name, or part of it, leads to her orders and cups", async () => {
    for (const said of [buyer?.name ?? "", (buyer?.name ?? "").slice(0, 4).toUpperCase()]) {
      const { text } = await go(said).expect(200)
      expect(text).toContain(`href="/orders/${buyer?.orderId}"`)
      expect(text).toContain(`href="/cups/${buyer?.serial}"`)
      // sent whole, though nobody closed it
      expect(text).toContain('pill-sent"')
    }
    await go("Nobody Atall").expect(404)
    await go("%").expect(404)
  })

  test("an order is found by its number; one that is not there is not", async () => {
    for (const said of [`${buyer?.orderId}`, `order ${buyer?.orderId}`, `#${buyer?.orderId}`]) {
      expect((await go(said).expect(302)).headers.location).toBe(`/orders/${buyer?.orderId}`)
    }
    await go("order 987654").expect(404)
  })

  test("from a cup one tap leads to its order", async () => {
    const { text } = await here.get(`/cups/${buyer?.serial}`).expect(200)
    expect(text).toContain(`href="/orders/${buyer?.orderId}">order ${buyer?.orderId}</a>`)
  })
})
