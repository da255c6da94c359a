import { Ajv2020, type ValidateFunction } from "ajv/dist/2020.js"
import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceCup, traceLot } from "../../server/tracing/service.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }

/** The version of each form: what an amount of a lot counts changed with its second. */
const VERSION: Record<string, number> = { cup: 1, lot: 2 }

// strict: a schema that is none, or says something it cannot mean, throws
const ajv = new Ajv2020({
  strict: true,
  allowUnionTypes: true,
  formats: {
    "date-time": (text: string) => /^\d{4}-\d\d-\d\dT.*Z$/.test(text) && !Number.isNaN(Date.parse(text)),
  },
})

let here: Listening
const validators = new Map<string, ValidateFunction>()
beforeAll(async () => {
  here = await listenWith(studio, [tracingRoutes])
  for (const of of ["cup", "lot"]) {
    const answer = await here.get(`/trace/${of}.schema.json`).expect(200)
    expect(answer.headers["content-type"]).toMatch(/^application\/schema\+json/)
    // supertest gives the body of a type it does not know as bytes or text
    const text = answer.text ?? (answer.body as Buffer).toString("utf8")
    validators.set(of, ajv.compile(JSON.parse(text)))
  }
})
afterAll(() => here.close())

async function faults(of: "cup" | "lot", address: string): Promise<unknown[]> {
  const { body } = await here.get(address).expect(200)
  expect(body.$schema).toBe(`urn:lotcup:trace:${of}:${VERSION[of]}`)
  const validate = validators.get(of)!
  return validate(body) ? [] : [address, ...(validate.errors ?? [])]
}

test("the schema of each trace names itself, and its draft", () => {
  for (const of of ["cup", "lot"]) {
    const schema = validators.get(of)!.schema as { $id: string; $schema: string }
    expect(schema.$id).toBe(`urn:lotcup:trace:${of}:${VERSION[of]}`)
    expect(schema.$schema).toBe("https://json-schema.org/draft/2020-12/schema")
  }
})

test("every cup of the demo is as the schema says, and says nothing that it does not", async () => {
  const cups = file.allText<{ serial: string }>("SELECT serial FROM cup WHERE state IS NOT NULL")
  expect(cups.length).toBeGreaterThan(100)
  for (const { serial } of cups) expect(await faults("cup", `/cups/${serial}/trace.json`)).toEqual([])
}, 60_000)

test("every lot of the demo is as the schema says, and says nothing that it does not", async () => {
  const lots = file.allText<{ id: number }>("SELECT id FROM lot")
  expect(lots.length).toBeGreaterThan(50)
  for (const { id } of lots) expect(await faults("lot", `/lots/${id}/trace.json`)).toEqual([])
}, 60_000)

test("both ways agree: of every lot that is poured or sprayed, the cups it went into are those that name it", () => {
  const cups = file.allText<{ serial: string }>("SELECT serial FROM cup WHERE state IS NOT NULL ORDER BY id")
  const named = new Map<number, string[]>()
  for (const { serial } of cups) {
    const lots = traceCup(studio, serial).layers.flatMap((layer) =>
      layer.coats.flatMap((coat) => coat.uses.flatMap((use) => use.lots.map((lot) => lot.lotId))),
    )
    for (const lotId of new Set(lots)) named.set(lotId, [...(named.get(lotId) ?? []), serial])
  }
  const poured = file.allText<{ id: number }>(
    "SELECT l.id FROM lot l JOIN supply s ON s.id = l.supply_id WHERE s.base_unit IN ('uL', 'mg')",
  )
  expect(poured.filter(({ id }) => named.has(id)).length).toBeGreaterThan(10)
  for (const { id } of poured)
    expect(
      traceLot(studio, id).cups.map((cup) => cup.serial),
      `lot ${id}`,
    ).toEqual(named.get(id) ?? [])
})

test("a trace with a part missing, or an amount that is no whole number, is not as the schema says", async () => {
  const { serial } = file.firstText<{ serial: string }>("SELECT serial FROM cup WHERE state = 'sent'")!
  const { body } = await here.get(`/cups/${serial}/trace.json`)
  const validate = validators.get("cup")!
  expect(validate(body)).toBe(true)
  expect(validate({ ...body, layers: undefined })).toBe(false)
  expect(validate({ ...body, costMicro: 1.5 })).toBe(false)
  expect(validate({ ...body, state: "lost" })).toBe(false)
})
