import { createHash } from "node:crypto"
import { afterAll, describe, expect, test } from "vitest"
import { demoHouse, REACHED, wholeApp } from "../support/demo-studio.ts"
import { everyState } from "../support/every-state.ts"
import type { FoundForm } from "../support/forms-in.ts"
import { routeOf, walk } from "../support/pages-of.ts"
import { routesOf } from "../support/routes-of.ts"
import { type Answer, type Asked, askRaw } from "./ask-raw.ts"
import { ATTRIBUTE, INSIDE, JSONS, NAMES, NEVER, ODD, QUOTES, SCRIPT, STEPS } from "./hostile.ts"

/*
 * Every route of the application, taken from its own router, with what no page of ours would send. Nothing may make
 * it fail, tell of its inside, or change a row; and what looks hostile but is a text like any other (a name with a
 * quote in it) is kept as it was written and shown as text.
 */

const house = demoHouse()
const { app, here } = await wholeApp(house, REACHED)
const state = await everyState(house.studio, here)
const routes = routesOf(app)
const gets = routes.filter(({ method }) => method === "get").map(({ path }) => path)
const posts = routes.filter(({ method }) => method === "post").map(({ path }) => path)
const { pages } = await walk(here, routes, state.addresses)
const forms = pages.flatMap((page) => page.forms)

afterAll(async () => {
  await here.close()
  house.close()
})

describe("what no page of ours sends is refused and changes nothing", () => {
  test.each(posts)(
    "%s",
    async (route) => {
      const form = formFor(route)
      const { path } = form
      let before = fingerprint()
      const wrong: string[] = []
      const refused = async (what: string, asked: Omit<Asked, "method">, statuses?: readonly number[]) => {
        const answer = await askRaw(here.port, { method: "POST", ...asked })
        wrong.push(...faultsOf(what, answer))
        if (!(statuses?.includes(answer.status) ?? isNo(answer)))
          wrong.push(`${what}: answered ${answer.status}`)
        if (fingerprint() !== before) wrong.push(`${what}: changed something`)
        before = fingerprint()
      }
      const body = bodyOf(pairsOf(form))

      await refused("from another site", { path, body, headers: { "sec-fetch-site": "cross-site" } }, [403])
      await refused("from another origin", { path, body, headers: { origin: "http://127.0.0.1:1" } }, [403])
      await refused("from nowhere", { path, body, headers: { origin: null, "sec-fetch-site": null } }, [403])
      await refused("to another host", { path, body, headers: { host: "evil.example" } }, [421])
      await refused("to another port", { path, body, headers: { host: "127.0.0.1:1" } }, [421])

      await refused("nothing", { path })
      await refused("no key", { path, body: bodyOf(having(form, "key", [])) })
      await refused("two keys", { path, body: bodyOf(having(form, "key", ["first-key-1", "second-key-2"])) })
      for (const name of namesIn(form))
        for (const [what, value] of Object.entries(NEVER))
          await refused(`${name}: ${what}`, { path, body: bodyOf(having(form, name, [value].flat())) })
      await refused("too much", { path, body: `key=${"9".repeat(1_000_000)}` }, [413, 415])
      await refused("too many fields", { path, body: `${body}${"&more=1".repeat(1_500)}` })
      await refused("half a sign", { path, body: "key=%E0%A4%A&%=%" })

      const typed = (type: string, more = {}) => ({ "content-type": type, ...more })
      for (const json of JSONS)
        await refused(`JSON ${json}`, { path, body: json, headers: typed("application/json") })
      for (const kind of [7, null, true, {}, [[]]]) {
        const kinds = JSON.stringify({ ...Object.fromEntries(pairsOf(form).map(([name]) => [name, kind])) })
        await refused(`JSON of ${kind}`, { path, body: kinds, headers: typed("application/json") })
      }
      await refused("plain text", { path, body, headers: typed("text/plain") })
      await refused("a strange alphabet", { path, body, headers: typed(`${FORM}; charset=utf-7`) })
      await refused("packed, but not", { path, body, headers: typed(FORM, { "content-encoding": "gzip" }) })
      for (const step of route.includes(":") ? STEPS : [])
        await refused(`at ${step.slice(0, 40)}`, { path: route.replace(/:\w+/g, step), body })
      expect(wrong).toEqual([])
    },
    120_000,
  )
})

describe("whatever is asked is answered with a page or a plain no, and changes nothing", () => {
  test.each(gets)(
    "%s",
    async (route) => {
      const before = fingerprint()
      const wrong: string[] = []
      for (const path of hostileAddresses(route)) {
        const answer = await askRaw(here.port, { method: "GET", path })
        wrong.push(...faultsOf(path.slice(0, 120), answer))
        if (answer.location !== null && !/^\/(?![/\\])/.test(answer.location))
          wrong.push(`${path.slice(0, 120)}: leads to ${answer.location}`)
      }
      const path = addressFor(route)
      for (const method of ["HEAD", "OPTIONS", "PUT", "PATCH", "DELETE"])
        wrong.push(...faultsOf(method, await askRaw(here.port, { method, path })))
      const stranger = await askRaw(here.port, { method: "GET", path, headers: { host: "evil.example" } })
      expect(stranger.status).toBe(421)
      expect(wrong).toEqual([])
      expect(fingerprint()).toBe(before)
    },
    120_000,
  )
})

describe("odd words are refused, or kept as they are and shown as text", () => {
  test.each(posts)(
    "%s",
    async (route) => {
      const form = formFor(route)
      const wrong: string[] = []
      const sent = async (what: string, pairs: Pairs) => {
        const before = fingerprint()
        const answer = await askRaw(here.port, { method: "POST", path: form.path, body: bodyOf(pairs) })
        wrong.push(...faultsOf(what, answer))
        if (isNo(answer) && fingerprint() !== before)
          wrong.push(`${what}: refused, and yet changed something`)
      }
      const names = namesIn(form)
      for (const name of names)
        for (const value of [SCRIPT, QUOTES])
          await sent(`${name}: ${value}`, having(fresh(form), name, [value]))
      for (const [index, [what, value]] of Object.entries(ODD).entries()) {
        const name = names[index % names.length]
        if (name !== undefined) await sent(`${name}: ${what}`, having(fresh(form), name, [value]))
      }
      for (const [name, value] of Object.entries(NAMES))
        await sent(name, [...pairsOf(fresh(form)), [name, value]])
      expect(wrong).toEqual([])
      expect(({} as { polluted?: unknown }).polluted).toBeUndefined()
    },
    120_000,
  )

  test("then every page still shows, and no odd word has become a part of it", async () => {
    const after = await walk(here, routes)
    expect(after.pages.length).toBeGreaterThan(30)
    expect(after.nowhere).toEqual([])
    for (const { address } of after.pages) {
      const { text } = await here.get(address)
      expect(text).not.toContain(SCRIPT)
      expect(text).not.toContain(ATTRIBUTE)
    }
  }, 120_000)

  test("then the book is whole: every amount is the sum of its movements, nothing unprintable in any text", () => {
    const { file } = house.studio
    expect(file.allText("PRAGMA integrity_check")).toEqual([{ integrity_check: "ok" }])
    expect(file.allText("PRAGMA foreign_key_check")).toEqual([])
    const off = `SELECT c.code FROM container c LEFT JOIN movement m ON m.container_id = c.id
      GROUP BY c.id HAVING c.amount_left <> coalesce(sum(m.amount), 0)`
    expect(file.allText(off)).toEqual([])
    const texts = tables().flatMap((table) => rowsOf(table).flatMap((row) => Object.values(row)))
    // biome-ignore lint/suspicious/noControlCharactersInRegex: those are looked for
    const unprintable = /[\u0000-\u0008\u000b\u000c\u000e-\u001f]/
    expect(texts.filter((text) => typeof text === "string" && unprintable.test(text))).toEqual([])
  })
})

const FORM = "application/x-www-form-urlencoded"
type Pairs = readonly (readonly [name: string, value: string])[]

/** A route's form as a page shows it; empty for what a page's script sends. */
function formFor(route: string): FoundForm {
  const found = forms.find(({ method, path }) => method === "post" && routeOf(path, posts) === route)
  return found ?? { method: "post", path: route, fields: [] }
}

let keys = 0

function fresh(form: FoundForm): FoundForm {
  keys += 1
  const value = `fresh-key-${keys}`
  return { ...form, fields: form.fields.map((field) => (field.name === "key" ? { ...field, value } : field)) }
}

/** What a browser sends of a form nobody changed, its last button tapped. */
function pairsOf(form: FoundForm): Pairs {
  const button = form.fields.findLast(({ type }) => type === "button")
  return form.fields
    .filter((field) => field.type !== "button" || field === button)
    .map(({ name, value }) => [name, value] as const)
}

/** The same with other values in the fields of a name. */
function having(form: FoundForm, name: string, values: readonly string[]): Pairs {
  const others = pairsOf(form).filter(([one]) => one !== name)
  return [...others, ...values.map((value) => [name, value] as const)]
}

function bodyOf(pairs: Pairs): string {
  return new URLSearchParams(pairs.map(([name, value]) => [name, value])).toString()
}

/** Taken as they come: nonsense in them is left out and not refused. Boxes are ticked or not, whatever they send. */
const LENIENT = ["_form", "returnTo"]

/** Each field once; of rows of the same fields, the first that is filled in: a spare one is left out whole. */
function namesIn(form: FoundForm): string[] {
  const seen = new Set<string>()
  const rowOf = (name: string) => /^(.*\[\d+\])\[\w+\]$/.exec(name)?.[1]
  const spare = form.fields
    .filter(({ type, value }) => type === "select" && value === "")
    .flatMap(({ name }) => rowOf(name) ?? [])
  return pairsOf(form)
    .map(([name]) => name)
    .filter((name) => {
      const kind = name.replace(/\[\d+\]/g, "[]")
      const isBox = form.fields.some((field) => field.name === name && field.type === "checkbox")
      if (seen.has(kind) || isBox || LENIENT.includes(name) || spare.includes(rowOf(name) ?? "")) return false
      seen.add(kind)
      return true
    })
}

/** An address of a route that is good: one that was found, or the route itself where nothing is to be filled in. */
function addressFor(route: string): string {
  return pages.find(({ address }) => routeOf(address, gets) === route)?.address ?? route.replace(/:\w+/g, "1")
}

function hostileAddresses(route: string): string[] {
  const good = new URL(addressFor(route), here.url)
  const asked = forms.filter(({ method, path }) => method === "get" && routeOf(path, gets) === route)
  const names = new Set([
    ...good.searchParams.keys(),
    ...asked.flatMap(({ fields }) => fields.map(({ name }) => name)),
    "code",
    "delivery",
    "__proto__",
  ])
  const queries = [...names].flatMap((name) =>
    [...Object.values(ODD), "a\u0000b", "9".repeat(6_000)].map((value) => {
      const query = new URLSearchParams(good.searchParams)
      query.set(name, value)
      return `${good.pathname}?${query}`
    }),
  )
  const several = [...names].flatMap((name) => [
    `${good.pathname}?${name}=1&${name}=2`,
    `${good.pathname}?${name}[a]=1`,
    `${good.pathname}?${name}[]=1`,
    `${good.pathname}?${name}=%E0%A4%A`,
  ])
  const steps = route.includes(":") ? STEPS.map((step) => route.replace(/:\w+/g, step)) : []
  return [...queries, ...several, ...steps]
}

function faultsOf(what: string, answer: Answer): string[] {
  return [
    ...(answer.status >= 100 && answer.status < 500 ? [] : [`${what}: answered ${answer.status}`]),
    ...(INSIDE.test(answer.text) ? [`${what}: tells of its inside: ${INSIDE.exec(answer.text)?.[0]}`] : []),
  ]
}

function isNo({ status }: Answer): boolean {
  return status >= 400 && status < 500
}

let taken = { file: house.studio.file, changes: -1, hash: "" }

/** Of all rows of all tables; worked out anew only after SQLite has written something, be it taken back. */
function fingerprint(): string {
  const { file } = house.studio
  const changes = file.firstText<{ n: number }>("SELECT total_changes() AS n")!.n
  if (taken.file === file && taken.changes === changes) return taken.hash
  const hash = createHash("sha256")
  for (const table of tables()) hash.update(JSON.stringify([table, rowsOf(table)]))
  taken = { file, changes, hash: hash.digest("hex") }
  return taken.hash
}

function tables(): string[] {
  const named = "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name"
  return house.studio.file.allText<{ name: string }>(named).map(({ name }) => name)
}

function rowsOf(table: string): Record<string, unknown>[] {
  return house.studio.file.allText(`SELECT * FROM "${table}"`)
}
