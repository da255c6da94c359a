import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { historyRoutes } from "../../server/history/routes.ts"
import { lookupRoutes } from "../../server/lookup/routes.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { containerByCode } from "../../server/shelf/service.ts"
import { addPack } from "../../server/supplies/service.ts"
import { twoCupsOfOneMix } from "../support/one-mix.ts"
import { addOne, halfUsed, receiveSome } from "../support/shelf-fixtures.ts"
import { TODAY, testStudio } from "../support/studio.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

const studio = testStudio()
const resin = addOne(studio, { name: "Clear <b>A</b>", hazards: ["skin-sensitiser"], minimumAmount: 600_000 })
let here: Listening
let code: string
let lotId: number
let keys = 0

beforeAll(async () => {
  here = await listenWith(studio, [shelfRoutes, historyRoutes, lookupRoutes])
})
afterAll(() => here.close())
beforeEach(() => {
  const received = receiveSome(studio, resin, {
    number: `L${keys}`,
    expiresOn: "2027-06-30",
    receivedOn: TODAY,
  })
  code = received.codes[0]!
  lotId = received.lotId
})

function key(): string {
  keys += 1
  return `form-key-${keys}`
}

function post(what: string, fields: Record<string, string> = {}) {
  return here.post(`/containers/${code}/${what}`, { key: key(), _form: what, ...fields })
}

function left(): number {
  return containerByCode(studio, code).amountLeft
}

async function saidAfter(answer: { headers: Record<string, string> }): Promise<string> {
  const page = await here.get(answer.headers.location!).set("Cookie", cookiesOf(answer))
  expect(page.status).toBe(200)
  return page.text
}

describe("the shelf page", () => {
  test("says what there is first, and shows each container with its amount", async () => {
    const page = await here.get("/shelf")
    expect(page.status).toBe(200)
    expect(page.text).toMatch(/containers? of 1 supply\. Nothing has expired/)
    expect(page.text).toContain(`href="/containers/${code}"`)
    expect(page.text).toContain("500 mL")
    expect(page.text).not.toContain("<b>A</b>")
  })

  test("search and filters work from the address alone; nonsense there counts as not said", async () => {
    expect((await here.get(`/shelf?search=${code}`)).text).toContain("1 container with")
    expect((await here.get("/shelf?kind=paint")).text).toContain("Nothing like that is on the shelf")
    expect((await here.get("/shelf?kind=gold&show=everything")).status).toBe(200)
    const hostile = await here.get(`/shelf?search=${encodeURIComponent('"><script>x</script>')}`)
    expect(hostile.status).toBe(200)
    expect(hostile.text).not.toContain("<script>x")
    expect((await here.get(`/shelf?search=${"a".repeat(101)}`)).status).toBe(400)
  })

  test("opening from the shelf comes back to the same filter, with Undo", async () => {
    const answer = await post("open", { returnTo: "/shelf?kind=resin" })
    expect(answer.status).toBe(303)
    expect(answer.headers.location).toBe("/shelf?kind=resin")
    const page = await saidAfter(answer)
    expect(page).toContain(`${code} is open`)
    expect(page).toMatch(/action="\/history\/\d+\/undo"/)
  })

  test("each supply is folded to its totals; few that were asked for, and the one just used, lie open", async () => {
    const folds = (text: string) =>
      [...text.matchAll(/<details class="card shelf-supply"[^>]*>/g)].map(([tag]) => tag)
    const whole = folds((await here.get("/shelf")).text)
    expect(whole.length).toBeGreaterThan(0)
    for (const tag of whole) expect(tag).not.toContain(" open")
    for (const tag of folds((await here.get(`/shelf?search=${code}`)).text)) expect(tag).toContain(" open")
    const sealed = receiveSome(studio, resin, { number: "S-1", receivedOn: TODAY }).codes[0] ?? ""
    const page = (await here.get("/shelf")).text
    const form = page.slice(page.indexOf(`action="/containers/${sealed}/open"`))
    const returnTo = /name="returnTo" value="([^"]+)"/.exec(form)?.[1]?.replaceAll("&#x3D;", "=") ?? ""
    expect(returnTo).toBe(`/shelf?unfold=${resin}#supply-${resin}`)
    const opened = folds((await here.get(returnTo.split("#")[0] ?? "")).text)
    expect(opened.filter((tag) => tag.includes(" open"))).toEqual([
      expect.stringContaining(`supply-${resin}"`),
    ])
  })

  test("a code is found however it was typed; one with a slip in it is told so", async () => {
    const typed = `${code.slice(0, 1)} ${code.slice(1).toLowerCase()}`.replaceAll("0", "o")
    expect((await here.get(`/shelf?${new URLSearchParams({ search: typed })}`)).text).toContain(
      `href="/containers/${code}"`,
    )
    const slip = code.slice(0, -1) + (code.endsWith("7") ? "8" : "7")
    expect((await here.get(`/shelf?search=${slip}`)).text).toContain(
      "a character is wrong: scan it or retype it, minding 0 and O, 1 and I.",
    )
    const other = await here.get("/shelf?search=Nothing+of+mine")
    expect(other.text).toContain("Nothing like that is on the shelf.")
    expect(other.text).toContain("/go?code&#x3D;Nothing+of+mine")
  })

  test("it never sends a person to another server", async () => {
    for (const returnTo of ["//elsewhere.example/", "https://elsewhere.example/", "/\\elsewhere.example"]) {
      const answer = await post("hold", { returnTo })
      expect(answer.headers.location).toBe(`/containers/${code}`)
      await post("release")
    }
  })
})

describe("a container's page", () => {
  test("tells what it is, what its day rests on, its cautions, and shows its code", async () => {
    const page = await here.get(`/containers/${code}`)
    expect(page.status).toBe(200)
    expect(page.text).toContain("the day on the label")
    expect(page.text).toContain("safety data sheet")
    expect(page.text).toContain(`/containers/${code}/code.svg`)
    const picture = await here.get(`/containers/${code}/code.svg`)
    expect(picture.headers["content-type"]).toMatch(/^image\/svg\+xml/)
    expect(Buffer.from(picture.body).toString()).toMatch(/^<svg/)
  })

  test("a code typed small leads to the right address; one that is none is not found", async () => {
    expect((await here.get(`/containers/${code.toLowerCase()}`)).headers.location).toBe(`/containers/${code}`)
    for (const wrong of ["K0001", "hello", "%3Cscript%3E", "%00", "a".repeat(100)]) {
      const page = await here.get(`/containers/${wrong}`)
      expect(page.status).toBe(404)
      expect(page.text).not.toContain("<script>al")
    }
    expect((await here.get("/containers/hello/code.svg")).status).toBe(404)
    expect((await here.post("/containers/hello/open", { key: key() })).status).toBe(404)
  })

  test("every button has a key of its own, and a form without one is refused", async () => {
    const shown = keysIn((await here.get(`/containers/${code}`)).text)
    expect(new Set(shown).size).toBe(shown.length)
    expect(shown.length).toBeGreaterThan(5)
    const answer = await here.post(`/containers/${code}/open`, {})
    expect(answer.status).toBe(422)
    expect(containerByCode(studio, code).openedOn).toBeNull()
  })

  test("the same form sent twice is done once, and a second write-off of all finds no empty bottle", async () => {
    const fields = { key: key(), kind: "write-off", amount: "", reason: "Gone off" }
    const first = await here.post(`/containers/${code}/write-off`, fields)
    const second = await here.post(`/containers/${code}/write-off`, fields)
    expect([first.status, second.status]).toEqual([303, 303])
    expect(left()).toBe(0)
    const other = await here.post(`/containers/${code}/write-off`, { ...fields, reason: "Set" })
    expect(other.status).toBe(409)
  })

  test("opened earlier: the life after opening runs from then; not before it came, not tomorrow", async () => {
    expect((await post("open", { happenedAt: "2026-11-01T10:00" })).status).toBe(422)
    expect((await post("open", { happenedAt: "2026-12-02T10:00" })).status).toBe(422)
    expect((await post("open", { happenedAt: "yesterday" })).status).toBe(422)
    expect((await post("open", { happenedAt: "2026-12-01T09:30" })).status).toBe(303)
    expect(containerByCode(studio, code)).toMatchObject({ openedOn: "2026-12-01", useBy: "2027-06-01" })
  })

  test("bench and hold and back", async () => {
    for (const what of ["bench", "unbench", "hold", "release"]) expect((await post(what)).status).toBe(303)
    expect((await post("release")).status).toBe(409)
  })
})

describe("amounts on a container's page", () => {
  test("a count by a look at the level, one tap", async () => {
    expect((await post("count", { level: "3/4" })).status).toBe(303)
    expect(left()).toBe(375_000)
    expect((await post("count", { level: "empty" })).status).toBe(303)
    expect(left()).toBe(0)
  })

  test("half of it, asked once and sent again, is half once: also when nothing is left by then", async () => {
    for (const [what, fields] of [
      ["write-off", { kind: "waste", share: "half", amount: "", reason: "Spilled" }],
      ["decant", { amount: "half" }],
    ] as const) {
      const sent = { key: key(), ...fields }
      const first = await here.post(`/containers/${code}/${what}`, sent)
      const left = containerByCode(studio, code).amountLeft
      const second = await here.post(`/containers/${code}/${what}`, sent)
      expect([second.status, second.headers.location], what).toEqual([303, first.headers.location])
      expect(containerByCode(studio, code).amountLeft).toBe(left)
      await here.post(`/containers/${code}/write-off`, { key: key(), kind: "waste", amount: "", reason: "" })
      const third = await here.post(`/containers/${code}/${what}`, sent)
      expect([third.status, third.headers.location], what).toEqual([303, first.headers.location])
      await here.post(`/containers/${code}/count`, { key: key(), level: "full", amount: "" })
    }
  })

  test("a count in the unit of the page, in another, or by weight where the density is known", async () => {
    await post("count", { amount: "320" })
    expect(left()).toBe(320_000)
    await post("count", { amount: "8 fl oz" })
    expect(left()).toBe(236_588)
    await post("count", { amount: "330 g" })
    expect(left()).toBe(300_000)
    await post("count", { amount: "0 mL" })
    expect(left()).toBe(0)
  })

  test("a count that cannot be keeps what was typed, says why, changes nothing", async () => {
    for (const amount of ["", "-5", "many", "1e9", "99999999999 L", "5 L", "NaN", "0x10"]) {
      const page = await post("count", { amount })
      expect([amount, page.status]).toEqual([amount, 422])
      expect(page.text).toContain('role="alert"')
      if (amount !== "") expect(page.text).toContain(`value="${amount}"`)
      expect(left()).toBe(500_000)
    }
    expect((await post("count", { level: "brim" })).status).toBe(422)
  })

  test("a top-up chosen among the same supply; more than is left is refused with the book's amount", async () => {
    const from = halfUsed(studio, resin, "2027-01-15")
    expect((await here.get(`/containers/${code}`)).text).toContain(`<option value="${from}"`)
    const refused = await post("top-up", { from, amount: "300" })
    expect(refused.status).toBe(422)
    expect(refused.text).toContain("holds 250 mL; 300 mL were asked for")
    expect(refused.text).toContain(`<option value="${from}" selected`)
    const answer = await post("top-up", { from, amount: "" })
    expect(await saidAfter(answer)).toContain(`with 250 mL from ${from}`)
    expect(left()).toBe(750_000)
    expect((await post("top-up", { from: code, amount: "1" })).status).toBe(422)
    expect((await post("top-up", { amount: "1" })).status).toBe(422)
  })

  test("decanting leads to the new bottle's page", async () => {
    const answer = await post("decant", { amount: "120" })
    expect(answer.status).toBe(303)
    expect(answer.headers.location).not.toBe(`/containers/${code}`)
    expect(await saidAfter(answer)).toContain("Full: 120 mL")
    expect(left()).toBe(380_000)
  })

  test("a share said is one of what is left, never half a millilitre; counted, one of the full bottle", async () => {
    await post("write-off", { kind: "waste", amount: "1/2", reason: "" })
    expect(left()).toBe(250_000)
    await post("write-off", { kind: "waste", amount: "", share: "half", reason: "" })
    expect(left()).toBe(125_000)
    await post("decant", { amount: "a quarter" })
    expect(left()).toBe(93_750)
    const from = halfUsed(studio, resin, "2027-01-15")
    await post("top-up", { from, amount: "½" })
    expect(left()).toBe(93_750 + 125_000)
    await post("count", { amount: "3/4" })
    expect(left()).toBe(375_000)
    await post("write-off", { kind: "waste", amount: "1/2 L", reason: "" }).then((answer) =>
      expect(answer.status).toBe(422),
    )
  })

  test("what is thrown away says what is low now and how resin may go", async () => {
    studio.file.runText("UPDATE supply SET minimum_amount = 1000000000 WHERE id = ?", [resin])
    const page = await saidAfter(
      await post("write-off", { kind: "write-off", amount: "", reason: "Gone off" }),
    )
    expect(page).toContain("is low:")
    expect(page).toContain("not down the drain")
    expect(page).toContain("safety data sheet (section 13, disposal)")
    expect(page).toContain("Why: Gone off")
    expect((await post("write-off", { kind: "gift", amount: "1" })).status).toBe(422)
  })
})

describe("a lot held", () => {
  test("by its page, and released from the bottle's", async () => {
    const held = await here.post(`/lots/${lotId}/hold`, { key: key() })
    expect(held.headers.location).toBe(`/lots/${lotId}`)
    expect((await here.get(`/containers/${code}`)).text).toContain("Release its whole lot")
    expect((await post("bench")).status).toBe(422)
    const back = await here.post(`/lots/${lotId}/release`, { key: key(), returnTo: `/containers/${code}` })
    expect(back.headers.location).toBe(`/containers/${code}`)
    expect((await here.post("/lots/999999/hold", { key: key() })).status).toBe(404)
    expect((await here.post("/lots/x/hold", { key: key() })).status).toBe(404)
  })
})

describe("from a code to its thing", () => {
  const go = (text: string) => here.get(`/go?code=${encodeURIComponent(text)}`)

  test("a container's code, however typed; a lot number", async () => {
    expect((await go(` ${code.toLowerCase()} `)).headers.location).toBe(`/containers/${code}`)
    const number = containerByCode(studio, code).lotNumber!
    expect((await go(number)).headers.location).toBe(`/lots/${lotId}`)
  })

  test("a lot number of two lots asks which", async () => {
    for (const one of [1, 2]) {
      const other = addOne(studio, { name: `Twin ${one}` })
      receiveSome(studio, other, { number: "TWIN", receivedOn: TODAY })
    }
    const page = await go("twin")
    expect(page.status).toBe(200)
    expect(page.text).toContain("2 lots carry this number")
  })

  test("a pack's barcode says that it is the pack's", async () => {
    const contents = [{ supplyId: resin, amount: 1_000, containerCount: 1 }]
    addPack(studio, { name: "Pint kit", makerId: null, codes: ["9521234543213"], contents, offers: [] })
    const page = await go("9521234543213")
    expect(page.status).toBe(200)
    expect(page.text).toContain("Pint kit")
  })

  test("a mix has a page with its cups and bottles", async () => {
    const { studio: mixing, batch, bottles, code: mix } = twoCupsOfOneMix()
    const there = await listenWith(mixing, [lookupRoutes])
    const page = await there.get(`/mixes/${mix}`)
    await there.close()
    expect(page.status).toBe(200)
    expect(page.text).toContain("Clear 1:1, Coat 1, on 2 cups.")
    for (const cup of batch.cups) expect(page.text).toContain(`href="/cups/${cup.serial}"`)
    for (const bottle of bottles) expect(page.text).toContain(`href="/containers/${bottle.code}"`)
    // on paper it goes to the resin's maker, who asks for the lots
    expect(page.text.match(/as planned; lot L1\b/g)).toHaveLength(bottles.length)
  })

  test("what is none gets a sentence and things to try, shown as text", async () => {
    for (const text of ["", "hello", "https://elsewhere.example/", "<script>x</script>", "T00019"]) {
      const page = await go(text)
      expect(page.status).toBe(404)
      expect(page.text).toContain("Look again")
      expect(page.text).not.toContain("<script>x")
      expect(page.text).not.toContain('href="https://')
    }
    expect((await here.get("/go")).status).toBe(404)
    expect((await here.get("/mixes/M00019")).status).toBe(404)
  })
})
