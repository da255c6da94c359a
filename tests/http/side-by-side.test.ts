import { parse } from "csv-parse/sync"
import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { suppliesRoutes } from "../../server/supplies/routes.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceCup, traceLot } from "../../server/tracing/service.ts"
import { addOne } from "../support/shelf-fixtures.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
const hardener = file.firstText<{ id: number; name: string }>(
  `SELECT s.id, s.name FROM supply s WHERE s.kind = 'hardener' AND EXISTS (
     SELECT 1 FROM container c JOIN movement m ON m.container_id = c.id WHERE c.supply_id = s.id AND m.kind = 'use') LIMIT 1`,
)!
let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [tracingRoutes, suppliesRoutes])
})
afterAll(() => here.close())

/** The tags of a page taken out, its spaces closed up. */
const words = (html: string) =>
  html
    .slice(html.indexOf("<main"))
    .replace(/<svg.*?<\/svg>|<[^>]+>/gs, " ")
    .replace(/\s+/g, " ")
const csvOf = async (id: number): Promise<Record<string, string>[]> =>
  parse((await here.get(`/trace/supplies/${id}/counts.csv`).expect(200)).text, { columns: true })

test("the page says how many of how many, with it and without, and puts nothing down to it", async () => {
  const { text } = await here.get(`/trace/supplies/${hardener.id}`).expect(200)
  const page = words(text)
  expect(page).toMatch(/Scrapped or complained of: \d+ of \d+ cups with it, against \d+ of \d+ without it\./)
  expect(page).toContain(
    "Counts alone say nothing about the cause: light, heat, ratio, mixing or age may be behind it; few cups say little.",
  )
  for (const heading of ["With any of it", "Lot by lot", "By how long it had been open"])
    expect(text).toContain(`<h2>${heading}</h2>`)
})

test("in the demo the counts are those of its cups' own traces, cup by cup", async () => {
  const complained = new Set(
    file
      .allText<{ serial: string }>("SELECT u.serial FROM complaint p JOIN cup u ON u.id = p.cup_id")
      .map(({ serial }) => serial),
  )
  const cups = file
    .allText<{ serial: string; state: string }>("SELECT serial, state FROM cup WHERE state <> 'in work'")
    .map(({ serial, state }) => {
      const uses = traceCup(studio, serial).layers.flatMap(({ coats }) => coats.flatMap((coat) => coat.uses))
      return {
        bad: state === "scrapped" || complained.has(serial),
        has: uses.some(({ supply }) => supply === hardener.name),
      }
    })
  const [any] = await csvOf(hardener.id)
  const counted = (has: boolean) => cups.filter((cup) => cup.has === has)
  expect(counted(true).length).toBeGreaterThan(5)
  expect(any).toMatchObject({
    supply: hardener.name,
    compared_by: "supply",
    with_bad: `${counted(true).filter(({ bad }) => bad).length}`,
    with_all: `${counted(true).length}`,
    rest_bad: `${counted(false).filter(({ bad }) => bad).length}`,
    rest_all: `${counted(false).length}`,
  })
})

test("in the demo each lot and each age is set beside all the rest of the supply's cups", async () => {
  const [any, ...parts] = await csvOf(hardener.id)
  expect(parts.some((one) => one.compared_by === "lot")).toBe(true)
  expect(parts.some((one) => one.compared_by === "open for")).toBe(true)
  for (const part of parts) {
    expect(Number(part.with_all) + Number(part.rest_all)).toBe(Number(any?.with_all))
    expect(Number(part.with_bad) + Number(part.rest_bad)).toBe(Number(any?.with_bad))
  }
  const inBands = parts.filter((one) => one.compared_by === "open for")
  expect(inBands.reduce((sum, one) => sum + Number(one.with_all), 0)).toBe(Number(any?.with_all))
})

test("it is found from the supply, from its lots and from the page for tracing", async () => {
  const { lotId } = file.firstText<{ lotId: number }>(
    `SELECT t.lot_id AS lotId FROM container c JOIN container_lot t ON t.container_id = c.id
       JOIN movement m ON m.container_id = c.id AND m.kind = 'use' WHERE c.supply_id = ?`,
    [hardener.id],
  )!
  expect(traceLot(studio, lotId).cups.length).toBeGreaterThan(0)
  for (const from of [`/setup/supplies/${hardener.id}`, `/lots/${lotId}`, "/trace"])
    expect((await here.get(from).expect(200)).text).toContain(`href="/trace/supplies/${hardener.id}"`)
})

test("a supply that no cup has says how that is filled; one that is not there gets a plain no", async () => {
  const unused = addOne(studio, { name: "Never <used>" })
  const { text } = await here.get(`/trace/supplies/${unused}`).expect(200)
  expect(words(text)).toContain("No finished or scrapped cup has any of it yet.")
  expect(text).toContain("Never &lt;used&gt;")
  expect(text).not.toContain("<table")
  for (const path of ["999999", "0", "-1", "1.5", "abc", "1e3", "%00", "9".repeat(40)])
    for (const end of ["", "/counts.csv"]) {
      const answer = await here.get(`/trace/supplies/${path}${end}`)
      expect(answer.status, path + end).toBe(404)
      expect(answer.text).not.toContain("<table")
    }
})
