import { mkdtempSync, writeFileSync } from "node:fs"
import { request as rawRequest } from "node:http"
import { tmpdir } from "node:os"
import { join } from "node:path"
import express from "express"
import { pino } from "pino"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { z } from "zod"
import { Refusal } from "../../server/domain/refusal.ts"
import { bundleAssets } from "../../server/web/assets.ts"
import {
  anyOf,
  checkbox,
  count,
  idempotencyKey,
  isoDay,
  optionalText,
  orEmpty,
  returnTo,
  rows,
  text,
} from "../../server/web/fields.ts"
import { formPage, formPost, idParam, readQuery, rowsTyped } from "../../server/web/forms.ts"
import { createShell } from "../../server/web/shell.ts"
import { cookiesOf, type Listening, listen } from "./listening.ts"

const KEY = "0f9c1d52-3a57-4c5f-9b57-3f3a0b7a6c11"
const views = mkdtempSync(join(tmpdir(), "lotcup-views-"))
const logged: string[] = []
const kept: unknown[] = []
let studioBroken = false
let here: Listening

const JarForm = z.object({
  key: idempotencyKey,
  name: text(40),
  lotNumber: optionalText(20),
  count: count(1000),
  expiresOn: orEmpty(isoDay("Expiry")),
  glossy: checkbox,
  hazards: anyOf(["flammable", "irritant"]),
  uses: rows(z.object({ what: text(20), amount: count(50) }), { max: 5, blankWhen: "what" }),
})

function write(name: string, source: string) {
  writeFileSync(join(views, `${name}.hbs`), source)
}

function tryOutRoom() {
  write(
    "jar",
    `<form method="post">{{hidden-key}}
    {{> field name="name" label="Name" value=jar.name}}
    {{> field name="lotNumber" label="Lot number" optional=true}}
    {{> number-field name="count" label="Count" value=1 hint="How many jars"}}
    {{> field name="expiresOn" label="Expiry" optional=true}}
    {{> check-field name="glossy" label="Glossy" checked=true}}
    {{> check-field name="hazards" value="flammable" label="Flammable"}}
    {{> check-field name="hazards" value="irritant" label="Irritant" checked=true}}
    {{#each uses}}{{> field name=(row-name "uses" @index "what") label="What"}}
    {{> number-field name=(row-name "uses" @index "amount") label="Amount"}}{{/each}}
    {{> big-button label="Keep"}}</form>
    <form method="post" action="/other">{{form-name "other"}}{{> field form="other" name="name" label="Other name" value="untouched"}}</form>`,
  )
  write(
    "words",
    `{{amount 250000 "uL"}}|{{money 12500000}}|{{day "2026-12-08"}}|{{day null}}|{{moment "2026-12-08T22:30:00Z"}}|{{plural 1 "cup" "cups"}}|{{plural 3 "cup" "cups"}}|<p>{{words}}</p><i data-x="{{json list}}"></i>{{> jars/_one one=words}}`,
  )
  write(
    "signs",
    `{{amount -1500 "uL"}}|{{money -580000}}|{{number -1250.5}}|{{amount 232258 "mm2" of=7}}|{{amount 9290 "mm2" of=7 offcut=true}}|{{amount 9290 "mm2" of=8}}`,
  )
  write("_one", "<u>{{one}}</u>")
  write("typo", "{{wrods}}")
  write(
    "parts",
    `{{> why working=working}}{{> caution cautions=cautions}}{{> empty text="No jars yet." to="/receive" label="Receive a jar" icon="receive"}}{{> pill state="expired"}}{{> one-tap action="/jars/1/open" label="Open" icon="open" about="Jar 1"}}{{> level value=25 max=100 label="a quarter left"}}`,
  )

  const router = express.Router()
  formPage(router, {
    path: "/jar",
    view: "jars/jar",
    show: (_req, state) => ({
      title: "A jar",
      jar: { name: "Sea glass" },
      uses: rowsTyped(state, "uses") ?? [{}],
    }),
    form: JarForm,
    save: (input, _req, res) => {
      if (input.name === "taken") throw new Refusal("There is a jar of that name already.", { field: "name" })
      if (input.name === "gone") throw new Refusal("That jar is gone.", { status: 404 })
      kept.push(input)
      res.saved(`${input.name} is kept.`, { to: "/words?w=x", undo: 17, also: ["Lids are now low."] })
    },
  })
  const OneTap = z.object({ key: idempotencyKey, returnTo })
  formPost(router, {
    path: "/jars/:id/open",
    form: OneTap,
    save: (input, req, res) => {
      if (idParam(req) === 9) throw new Refusal("That jar is open already.", { status: 409 })
      res.saved("Opened.", { to: input.returnTo })
    },
  })
  router.get("/signs", (_req, res) => {
    res.page("jars/signs", { title: "Signs" })
  })
  router.get("/words", (req, res) => {
    const { w } = readQuery(z.object({ w: optionalText(100) }), req)
    res.page("jars/words", { title: "Words", words: w, list: [`"'<`] })
  })
  router.get("/parts", (_req, res) =>
    res.page("jars/parts", {
      title: "Parts",
      lead: "All of them.",
      back: { to: "/", label: "Home" },
      cautions: ["Keep it off the skin."],
      working: {
        title: "Clear resin A",
        formula: "mixed ÷ 2",
        inputs: [{ name: "mixed", value: 150.5, unit: "mL", from: "design" }],
        result: { value: 75.25, unit: "mL" },
      },
    }),
  )
  router.get("/typo", (_req, res) => res.page("jars/typo", { title: "Typo" }))
  router.get("/boom", () => {
    throw new Error("secret /home/someone/studio.db exploded")
  })
  router.get("/locked", () => {
    throw Object.assign(new Error("SQLITE_BUSY"), { code: "SQLITE_BUSY" })
  })
  router.post("/echo", (req, res) => void res.json({ body: req.body }))
  router.post("/sideways", (_req, res) => res.saved("x", { to: "//elsewhere.example/" }))
  return router
}

beforeAll(async () => {
  const router = tryOutRoom()
  const assets = bundleAssets()
  here = await listen((port) =>
    createShell({
      routers: [{ router }],
      navigation: [
        { to: "/words", label: "Words", icon: "shelf", showsLow: true },
        { to: "/jar", label: "Jar", icon: "batches" },
        { to: "/a", label: "A", icon: "orders" },
        { to: "/b", label: "B", icon: "receive" },
        { to: "/c", label: "C", icon: "trace" },
      ],
      port,
      logger: pino({ base: null }, { write: (line) => void logged.push(line) }),
      viewRoots: { jars: views },
      assets,
      helpersContext: () => {
        if (studioBroken) throw new Error("the file is gone")
        return {
          studioName: "Try & Out",
          units: "metric",
          currency: "EUR",
          today: "2026-12-01",
          timeZone: "Europe/Berlin",
          isDemo: true,
          sheets: new Map([[7, { widthUm: 304_800, heightUm: 304_800 }]]),
          lowCount: 3,
        }
      },
      explain: (error) =>
        error instanceof Error && error.message === "SQLITE_BUSY"
          ? new Refusal("Another program is using the studio's file.", { status: 503 })
          : undefined,
    }),
  )
})
afterAll(() => here.close())

/** Asks with exactly these headers, as no browser would. */
function asStranger(method: string, path: string, headers: Record<string, string>) {
  return new Promise<{ status: number; text: string; type: string }>((resolve, reject) => {
    const req = rawRequest({ host: "127.0.0.1", port: here.port, method, path, headers }, (res) => {
      let body = ""
      res.on("data", (chunk) => {
        body += chunk
      })
      res.on("end", () =>
        resolve({ status: res.statusCode ?? 0, text: body, type: String(res.headers["content-type"]) }),
      )
    })
    req.on("error", reject)
    req.end()
  })
}

describe("Who may ask", () => {
  test("our three names with our port are answered", async () => {
    for (const name of ["127.0.0.1", "localhost", "[::1]"])
      expect((await asStranger("GET", "/words", { host: `${name}:${here.port}` })).status).toBe(200)
  })

  test.each([
    "evil.example",
    "127.0.0.1",
    "127.0.0.1:1",
    "127.0.0.1.evil.example:PORT",
    "localhost:PORT.evil",
  ])("a read under the name %j is refused in plain words", async (host) => {
    const answer = await asStranger("GET", "/words", { host: host.replace("PORT", String(here.port)) })
    expect(answer.status).toBe(421)
    expect(answer.type).toContain("text/plain")
    expect(answer.text).not.toContain("Try")
  })

  test("assets are refused to strangers too, and an absolute request line gets nothing", async () => {
    expect((await asStranger("GET", "/assets/x.js", { host: "evil.example" })).status).toBe(421)
    const answer = await asStranger("GET", "http://evil.example/words", { host: `127.0.0.1:${here.port}` })
    expect(answer.status).toBe(421)
  })

  test.each([
    ["neither Origin nor Sec-Fetch-Site", {}],
    ["another origin", { origin: "http://evil.example" }],
    ["the same name on another port", { origin: "http://127.0.0.1:1" }],
    ["our address over https", { origin: "https://127.0.0.1:PORT" }],
    ["origin null", { origin: "null" }],
    ["a cross-site fetch", { "sec-fetch-site": "cross-site" }],
    ["a same-site fetch from another port", { "sec-fetch-site": "same-site" }],
    [
      "a cross-site fetch that claims our origin",
      { "sec-fetch-site": "cross-site", origin: "http://127.0.0.1:PORT" },
    ],
    [
      "another origin that claims same-origin",
      { "sec-fetch-site": "same-origin", origin: "http://evil.example" },
    ],
    ["our other name", { origin: "http://localhost:PORT" }],
  ])("a write with %s is refused", async (_title, given: Record<string, string>) => {
    const headers = Object.fromEntries(
      Object.entries(given).map(([name, value]) => [name, value.replace("PORT", String(here.port))]),
    )
    for (const method of ["POST", "PUT", "DELETE", "PATCH"]) {
      const answer = await asStranger(method, "/echo", { host: `127.0.0.1:${here.port}`, ...headers })
      expect(answer.status).toBe(403)
    }
  })

  test("either of Origin and Sec-Fetch-Site is enough when it is ours", async () => {
    const host = `127.0.0.1:${here.port}`
    const asked = (headers: Record<string, string>) =>
      asStranger("POST", "/echo", { host, "content-type": "application/json", ...headers })
    expect((await asked({ origin: `http://${host}` })).status).toBe(200)
    expect((await asked({ "sec-fetch-site": "same-origin" })).status).toBe(200)
  })
})

describe("Headers", () => {
  test("pages may load, frame and send nothing but here; only the camera is asked for", async () => {
    const { headers } = await here.get("/words")
    const policy = headers["content-security-policy"] ?? ""
    expect(policy).toContain("default-src 'none'")
    expect(policy).toContain("script-src 'self'")
    expect(policy).toContain("frame-ancestors 'none'")
    expect(policy).toContain("base-uri 'none'")
    expect(policy).not.toMatch(/unsafe|upgrade-insecure|\*/)
    expect(headers["permissions-policy"]).toContain("camera=(self)")
    expect(headers["cache-control"]).toBe("no-store")
    expect(headers["x-content-type-options"]).toBe("nosniff")
    // no-referrer would turn our own forms' Origin into "null"
    expect(headers["referrer-policy"]).toBe("same-origin")
    expect(headers).not.toHaveProperty("strict-transport-security")
    expect(headers).not.toHaveProperty("x-powered-by")
  })

  test("no page has a style or script of its own inside", async () => {
    for (const path of ["/words", "/jar", "/parts", "/nowhere"]) {
      const { text: html } = await here.get(path)
      expect(html).not.toMatch(/\sstyle=|<style|<script>|\son[a-z]+=/)
    }
  })

  test("assets carry their content in the name and may be kept for ever", async () => {
    const page = await here.get("/words")
    const script = /src="(\/assets\/page\.[A-Z0-9]+\.js)"/.exec(page.text)?.[1]
    const styles = /href="(\/assets\/styles\.[A-Z0-9]+\.css)"/.exec(page.text)?.[1]
    for (const [path, type] of [
      [script, "javascript"],
      [styles, "text/css"],
    ]) {
      const asset = await here.get(path as string)
      expect(asset.status).toBe(200)
      expect(asset.headers["content-type"]).toContain(type)
      expect(asset.headers["cache-control"]).toContain("immutable")
    }
    expect((await here.get("/assets/page.js")).status).toBe(404)
    expect((await here.get("/assets/..%2f..%2fpackage.json")).status).toBe(404)
  })

  test("code that does not bundle stops the start with file and line", () => {
    const broken = mkdtempSync(join(tmpdir(), "lotcup-client-"))
    writeFileSync(join(broken, "page.ts"), "let a =\nlet b")
    expect(() => bundleAssets(broken)).toThrow(/could not be built: client\/page\.ts, line 2: /)
  })
})

describe("Pages", () => {
  test("amounts, money and days are said the studio's way", async () => {
    const { text: html } = await here.get("/words?w=ok")
    // 22:30 UTC is 23:30 in Berlin in winter
    expect(html).toContain("250 mL|")
    expect(html).toMatch(/\|[^|]*12\.50[^|]*\|Tue 8 Dec\|–\|Tue 8 Dec, 23:30\|1 cup\|3 cups\|/)
  })

  test("below zero has one sign, and what comes in sheets is said in sheets, but for an offcut", async () => {
    const { text: html } = await here.get("/signs")
    expect(html).toContain("−1.5 mL|−€0.58|−1,250.5|2.5 sheets|92.9 cm²|92.9 cm²")
  })

  test("what people type is text, in words, attributes and partials", async () => {
    const { text: html } = await here.get(`/words?w=${encodeURIComponent("<script>alert(1)</script>\"'&")}`)
    expect(html).not.toContain("<script>alert")
    expect(html.match(/&lt;script&gt;alert\(1\)&lt;\/script&gt;/g)).toHaveLength(2)
    expect(html).toContain('data-x="[&quot;\\&quot;&#x27;&lt;&quot;]"')
    expect(html).toContain("Try &amp; Out")
  })

  test("the room one is in is marked, and the shelf's button counts what is low", async () => {
    const { text: html } = await here.get("/words")
    expect(html).toMatch(/href="\/words" aria-current="page"/)
    expect(html).not.toMatch(/href="\/jar" aria-current/)
    expect(html).toMatch(/badge">3</)
  })

  test("workings, cautions and empty pages say what they are", async () => {
    const { text: html } = await here.get("/parts")
    expect(html).toContain("Why this much?")
    expect(html).toContain("mixed ÷ 2")
    expect(html).toMatch(/75\.25 mL/)
    expect(html).toContain("Keep it off the skin.")
    expect(html).toContain('aria-label="Open: Jar 1"')
    expect(html).toMatch(/<a class="button big" href="\/receive">/)
  })

  test("no page: 404 with a sentence, in the layout", async () => {
    const answer = await here.get("/nowhere/<b>")
    expect(answer.status).toBe(404)
    expect(answer.text).toContain("There is no page at this address.")
    expect(answer.text).toContain("Try &amp; Out")
    expect(answer.text).not.toContain("<b>")
  })

  test("an address that cannot be decoded is a 400 without its text", async () => {
    const answer = await here.get("/assets/%E0%A4%A")
    expect(answer.status).toBe(400)
    expect(answer.text).toContain("could not be understood")
    expect(answer.text).not.toContain("URIError")
  })

  test("an error nobody foresaw: 500, a number that is in the log, and nothing of its inside", async () => {
    const answer = await here.get("/boom")
    expect(answer.status).toBe(500)
    const reference = /number ([0-9A-F]{6})/.exec(answer.text)?.[1] ?? "none"
    expect(answer.text).not.toMatch(/secret|studio\.db|at .*\.ts|node_modules/)
    expect(logged.some((line) => line.includes(reference) && line.includes("secret"))).toBe(true)
  })

  test("a name a view does not know is a mistake, not an empty place", async () => {
    expect((await here.get("/typo")).status).toBe(500)
  })

  test("when even the layout fails, the sentence still arrives", async () => {
    studioBroken = true
    try {
      const answer = await here.get("/words")
      expect(answer.status).toBe(500)
      expect(answer.headers["content-type"]).toContain("text/plain")
      expect(answer.text).toMatch(/^Something went wrong/)
      expect(answer.text).not.toContain("the file is gone")
    } finally {
      studioBroken = false
    }
  })

  test("errors of other layers are told in their own sentence", async () => {
    const answer = await here.get("/locked")
    expect(answer.status).toBe(503)
    expect(answer.text).toContain("Another program is using the studio&#x27;s file.")
  })
})

describe("What is sent", () => {
  test("a body over 200 kB, too many fields, or a body that is no JSON is refused with its status", async () => {
    const big = await here.post("/echo", { a: "x".repeat(210_000) })
    expect(big.status).toBe(413)
    expect(big.text).toContain("more than one form may hold")
    const many = await here.post(
      "/echo",
      Object.fromEntries(Array.from({ length: 1001 }, (_, index) => [`f${index}`, "1"])),
    )
    expect(many.status).toBe(413)
    const json = await here.post("/echo").type("json").send("{nonsense")
    expect(json.status).toBe(400)
    expect(json.text).not.toMatch(/nonsense|SyntaxError|JSON/)
    expect(
      (
        await here
          .post("/echo")
          .type("json")
          .send(`"${"x".repeat(210_000)}"`)
      ).status,
    ).toBe(413)
  })

  test("nothing sent reaches an object's prototype", async () => {
    const answer = await here.post("/echo", {
      "__proto__[tainted]": "1",
      "a[__proto__][tainted]": "1",
      "constructor[prototype][tainted]": "1",
      "a[b]": "2",
    })
    expect(answer.status).toBe(200)
    expect(({} as Record<string, unknown>).tainted).toBeUndefined()
    expect(answer.body.body.a).toEqual({ b: "2" })
  })

  test("lines close up where some were taken out; names of another shape are left out", async () => {
    const answer = await here.post("/echo", {
      "uses[7][what]": "second",
      "uses[2][what]": "first",
      "uses[2][a][b][c][d][e]": "too deep",
      "bad name": "x",
      tags: ["a", "b"],
    })
    expect(answer.body.body).toEqual({ uses: [{ what: "first" }, { what: "second" }], tags: ["a", "b"] })
  })
})

const good = {
  key: KEY,
  name: "Opal",
  count: "12",
  lotNumber: "",
  expiresOn: "Dec 2027",
  hazards: "irritant",
}

describe("Forms", () => {
  test("what is typed arrives as values", async () => {
    kept.length = 0
    const answer = await here.post("/jar", {
      ...good,
      "uses[0][what]": "",
      "uses[0][amount]": "",
      "uses[1][what]": "clear",
      "uses[1][amount]": "4",
    })
    expect(answer.status).toBe(303)
    expect(kept).toEqual([
      {
        key: KEY,
        name: "Opal",
        lotNumber: "",
        count: 12,
        // a month alone is its last day on an expiry
        expiresOn: "2027-12-31",
        glossy: false,
        hazards: ["irritant"],
        uses: [{ what: "clear", amount: 4 }],
      },
    ])
  })

  test.each(["0", "-1", "1.5", "1001", "", "abc", "1e3", "99999999999999999999", "NaN", "0x10", "١٢"])(
    "a count of %j is refused in a plain sentence beside the field, and stays to be seen",
    async (typed) => {
      kept.length = 0
      const answer = await here.post("/jar", { ...good, count: typed })
      expect(answer.status).toBe(422)
      expect(kept).toEqual([])
      const sentence = "Count must be a whole number from 1 to 1,000."
      expect(answer.text).toMatch(new RegExp(`role="alert"[\\s\\S]*${sentence}`))
      expect(answer.text).toContain(`<p class="error" id="f-count-error">${sentence}</p>`)
      expect(answer.text).toContain('aria-describedby="f-count-hint f-count-error"')
      expect(answer.text).toMatch(new RegExp(`id="f-count"[^>]*value="${typed}"`))
    },
  )

  test("everything typed is kept when a form is shown again, ticks and lines too", async () => {
    const answer = await here.post("/jar", {
      ...good,
      name: '"><img src=x>',
      expiresOn: "03/12/2026",
      hazards: "flammable",
      "uses[0][what]": "clear",
      "uses[0][amount]": "4",
      "uses[4][what]": "shimmer",
      "uses[4][amount]": "51",
    })
    expect(answer.status).toBe(422)
    expect(answer.text).not.toContain("<img")
    expect(answer.text).toContain('value="&quot;&gt;&lt;img src&#x3D;x&gt;"')
    expect(answer.text).toContain('value="03/12/2026"')
    expect(answer.text).toContain("can be read two ways")
    // "glossy" is ticked to begin with and was not ticked when sent
    expect(answer.text).not.toMatch(/name="glossy"[^>]* checked/)
    expect(answer.text).toMatch(/value="flammable" checked/)
    expect(answer.text).not.toMatch(/value="irritant" checked/)
    expect(answer.text).toMatch(/name="uses\[0\]\[what\]"[^>]*value="clear"/)
    expect(answer.text).toMatch(/name="uses\[1\]\[amount\]"[^>]*value="51"/)
    expect(answer.text).toContain(
      '<p class="error" id="f-uses-1-amount-error">Line 2: Amount must be a whole number from 1 to 50.</p>',
    )
  })

  test("fields of another form on the page keep to themselves", async () => {
    const answer = await here.post("/jar", { ...good, name: "" })
    expect(answer.text).toMatch(/id="f-other-name"[^>]*value="untouched"/)
    expect(answer.text).toContain('<p class="error" id="f-name-error">Name is missing.</p>')
    expect(answer.text).not.toContain("f-other-name-error")
  })

  test("a service's refusal shows the page again beside its field, with a fresh key", async () => {
    const answer = await here.post("/jar", { ...good, name: "taken" })
    expect(answer.status).toBe(422)
    expect(answer.text).toContain(
      '<p class="error" id="f-name-error">There is a jar of that name already.</p>',
    )
    expect(answer.text).toMatch(/name="key" value="[0-9a-f-]{36}"/)
    expect(answer.text).not.toContain(KEY)
    expect((await here.post("/jar", { ...good, name: "gone" })).status).toBe(404)
  })

  test("two values for one field, a missing field, a nested one: sentences, never a crash", async () => {
    const doubled = await here.post("/jar", { ...good, name: ["a", "b"] })
    expect(doubled.status).toBe(422)
    expect(doubled.text).toContain("Name is not understood.")
    const nothing = await here.post("/jar")
    expect(nothing.status).toBe(422)
    expect(nothing.text).toContain("Name is missing.")
    expect(nothing.text).toContain("This page is out of date: open it again.")
    expect((await here.post("/jar", { ...good, "name[x]": "1" })).status).toBe(422)
    expect((await here.post("/jar", { ...good, hazards: "explosive" })).status).toBe(422)
    const long = await here.post("/jar", { ...good, name: "x".repeat(41) })
    expect(long.text).toContain("Name is too long: at most 40 characters.")
    const tooMany = Object.fromEntries(Array.from({ length: 6 }, (_, index) => [`uses[${index}][what]`, "x"]))
    expect((await here.post("/jar", { ...good, ...tooMany })).text).toContain("more than 5 lines")
  })

  test("control characters are refused in a line of text", async () => {
    const answer = await here.post("/jar", { ...good, name: "a\u0000b" })
    expect(answer.status).toBe(422)
    expect(answer.text).toContain("Name has characters that cannot be kept.")
  })

  test("a form of one button that is refused gets a page with the sentence and its status", async () => {
    const answer = await here.post("/jars/9/open", { key: KEY })
    expect(answer.status).toBe(409)
    expect(answer.text).toContain("That jar is open already.")
    expect((await here.post("/jars/0x9/open", { key: KEY })).status).toBe(404)
  })

  test("the page's own code gets the same answers in JSON", async () => {
    const refused = await here
      .post("/jar")
      .type("json")
      .accept("application/json")
      .send({ ...good, count: 0, uses: [] })
    expect(refused.status).toBe(422)
    expect(refused.body).toEqual({
      sentence: "Count must be a whole number from 1 to 1,000.",
      problems: [{ field: "count", sentence: "Count must be a whole number from 1 to 1,000." }],
    })
    const saved = await here
      .post("/jar")
      .type("json")
      .accept("application/json")
      .send({ ...good, count: 5, hazards: [], uses: [{ what: "clear", amount: 2 }] })
    expect(saved.body).toEqual({
      sentence: "Opal is kept.",
      also: ["Lids are now low."],
      undo: 17,
      undoTo: null,
      to: "/words?w=x",
    })
  })
})

describe("Notice", () => {
  test("after saving, the next page says so once, with Undo that comes back there", async () => {
    const saved = await here.post("/jar", { ...good, name: "<b>Opal</b>" })
    expect(saved.status).toBe(303)
    expect(saved.headers.location).toBe("/words?w=x")
    const flags = String(saved.headers["set-cookie"])
    expect(flags).toMatch(/HttpOnly/)
    expect(flags).toMatch(/SameSite=Strict/)

    const next = await here.get("/words?w=x").set("Cookie", cookiesOf(saved))
    expect(next.text).toContain("&lt;b&gt;Opal&lt;/b&gt; is kept.")
    expect(next.text).toContain("Lids are now low.")
    expect(next.text).toMatch(
      /<form method="post" action="\/history\/17\/undo">\s*<input type="hidden" name="key" value="[0-9a-f-]{36}">\s*<input type="hidden" name="returnTo" value="\/words\?w&#x3D;x">/,
    )
    expect(cookiesOf(next)).toBe(`lotcup-notice-${here.port}=`)
    expect((await here.get("/words")).text).not.toContain("is kept.")
  })

  test("a notice this process did not write is not shown", async () => {
    const saved = await here.post("/jar", good)
    const [name, value = ""] = cookiesOf(saved).split("=")
    const [body = "", signature = ""] = value.split(".")
    const other = Buffer.from(JSON.stringify({ sentence: "Pay here", also: [], undo: 1 })).toString(
      "base64url",
    )
    for (const forged of [
      `${other}.${signature}`,
      `${body}.${signature.slice(1)}`,
      other,
      "",
      "%%%",
      `${body}.`,
    ]) {
      const next = await here.get("/words").set("Cookie", `${name}=${forged}`)
      expect(next.status).toBe(200)
      expect(next.text).not.toMatch(/Pay here|is kept/)
    }
  })

  test("a very long sentence still fits a cookie", async () => {
    const answer = await here.post("/jar", { ...good, name: "ｗ".repeat(40) })
    expect(String(answer.headers["set-cookie"]).length).toBeLessThan(4096)
  })

  test("the way back is a path of ours or the first page", async () => {
    for (const [asked, goes] of [
      ["/shelf?kind=paint", "/shelf?kind=paint"],
      ["//evil.example", "/"],
      ["/\\evil.example", "/"],
      ["https://evil.example", "/"],
      ["/a\r\nSet-Cookie: x=1", "/"],
      ["javascript:alert(1)", "/"],
    ]) {
      const answer = await here.post("/jars/1/open", { key: KEY, returnTo: asked as string })
      expect(answer.headers.location).toBe(goes)
    }
    expect((await here.post("/sideways")).status).toBe(500)
  })
})
