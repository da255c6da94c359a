import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { historyRoutes } from "../../server/history/routes.ts"
import { lookupRoutes } from "../../server/lookup/routes.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { containerByCode } from "../../server/shelf/service.ts"
import { addResinSystem } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { addOne, halfUsed, receiveSome } from "../support/shelf-fixtures.ts"
import { TODAY, testStudio } from "../support/studio.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio()
// 1.1 g/mL
const partA = addOne(studio, { name: "Clear A" })
const partB = addOne(studio, { name: "Clear B", kind: "hardener", densityMgPerMl: 970 })
addResinSystem(studio, {
  name: "Clear",
  partASupplyId: partA,
  partBSupplyId: partB,
  ratioBasis: "volume",
  ratioA: 2,
  ratioB: 1,
  potLifeMin: 40,
  largestMixUl: 400_000,
  mixingMin: 5,
  cupWorkMin: 5,
  recoatEarliestMin: 600,
  recoatLatestMin: null,
  fullCureMin: 4320,
})
const [first = "", second = ""] = receiveSome(
  studio,
  partA,
  { number: "A-1", expiresOn: "2027-06-30", receivedOn: TODAY },
  { count: 2 },
).codes
const half = halfUsed(studio, partA, "2027-03-31")
receiveSome(studio, partB, { number: "B-1", expiresOn: "2027-06-30", receivedOn: TODAY })
let here: Listening
let keys = 0

beforeAll(async () => {
  here = await listenWith(studio, [shelfRoutes, receivingRoutes, historyRoutes, lookupRoutes])
})
afterAll(() => here.close())

const at = (code: string) => containerByCode(studio, code)
const page = async (code: string) => (await here.get(`/containers/${code}`)).text

/** Taps a button of a page by its words: sends its form just as it stands. */
async function tap(html: string, words: RegExp) {
  const forms = [...html.matchAll(/<form method="post" action="([^"]+)"[^>]*>(.*?)<\/form>/gs)]
  const form = forms.find(([, , inside]) =>
    words.test(/<button[^>]*>.*?<\/button>/s.exec(inside!)?.[0] ?? ""),
  )
  if (!form) throw new Error(`no button ${words} on the page`)
  const fields = Object.fromEntries(
    [...form[2]!.matchAll(/<input type="hidden" name="([^"]+)" value="([^"]*)"/g)].map((one) => [
      one[1],
      one[2],
    ]),
  ) as Record<string, string>
  return here.post(form[1]!, fields)
}

async function undo(answer: { headers: Record<string, string> }) {
  const shown = await here.get(answer.headers.location!).set("Cookie", cookiesOf(answer))
  return tap(/<div class="toast".*?<\/form>/s.exec(shown.text)![0], /Undo/)
}

describe("one tap each, and undone with one", () => {
  test("open", async () => {
    const answer = await tap(await page(first), /<span>Open</)
    expect(at(first).openedOn).toBe(TODAY)
    await undo(answer)
    expect(at(first).openedOn).toBeNull()
  })

  test("move: to a place that is typed once and offered from then on", async () => {
    keys += 1
    const answer = await here.post(`/containers/${first}/move`, {
      key: `move-key-${keys}`,
      place: "Shelf 2, left",
    })
    expect(answer.status).toBe(303)
    expect(at(first).place).toBe("Shelf 2, left")
    const moved = await tap(await page(second), /To Shelf 2, left/)
    expect(at(second).place).toBe("Shelf 2, left")
    expect((await here.get("/shelf/place?name=Shelf+2,+left")).text).toContain("2 containers stand here")
    await undo(moved)
    expect(at(second).place).toBeNull()
    expect((await here.get("/shelf?search=shelf+2")).text).toContain(first)
  })

  test("split: half of it into a new bottle of the same lot", async () => {
    const answer = await tap(await page(first), /Split: 250 mL into a new bottle/)
    const made = answer.headers.location!.replace("/containers/", "")
    expect([at(first).amountLeft, at(made).amountLeft, at(made).lotNumber]).toEqual([250_000, 250_000, "A-1"])
    await undo(answer)
    expect(at(first).amountLeft).toBe(500_000)
  })

  test("top up: as much as goes in, from the bottle that goes off first", async () => {
    const answer = await tap(await page(half), new RegExp(`Top up: 250 mL from ${first}`))
    expect([at(half).amountLeft, at(first).amountLeft]).toEqual([500_000, 250_000])
    // not straight back, though that one would go off first
    const offered = [...(await page(first)).matchAll(/Top up: [^<]*/g)].map(([words]) => words)
    expect(offered).toEqual([`Top up: 250 mL from ${second}`])
    await undo(answer)
    expect([at(half).amountLeft, at(first).amountLeft]).toEqual([250_000, 500_000])
  })
})

test("the page says how much of A has no B, by the maker's ratio", async () => {
  // 1250 mL of A and 500 mL of B at 2 : 1: 1000 mL of A go with it
  expect(await page(first)).toContain("Clear: 250 mL of Clear A have no Clear B to go with.")
})

describe("the scale", () => {
  const weigh = (code: string, gross: string) => {
    keys += 1
    return here.post(`/containers/${code}/weigh`, { key: `weigh-key-${keys}`, _form: "weigh", gross })
  }

  test("tells of a full bottle what it weighs empty, and of the same bottle later what is left", async () => {
    // 500 mL at 1.1 g/mL are 550 g
    const full = await weigh(second, "595 g")
    expect(full.status, full.text).toBe(303)
    expect(at(second).emptyMg).toBe(45_000)
    studio.setNow("2026-12-02")
    keys += 1
    await here.post(`/containers/${second}/write-off`, {
      key: `waste-key-${keys}`,
      kind: "waste",
      amount: "100 mL",
      reason: "",
    })
    const later = await weigh(second, "265")
    expect(later.status, later.text).toBe(303)
    // 265 g less 45 g are 220 g, which are 200 mL
    expect(at(second).amountLeft).toBe(200_000)
    await undo(later)
    expect(at(second).amountLeft).toBe(400_000)
  })

  test.each([
    ["less than what is in it", () => first, "500 g", /read 500 g, but what is in .* weighs 550 g alone/],
    ["a part-used bottle whose empty weight nobody knows", () => half, "300 g", /is not full by the book/],
    [
      "less than the empty bottle",
      () => second,
      "40 g",
      /The scale read less than K\w+ \(Clear A\) weighs empty/,
    ],
    ["far more than fits", () => second, "2 kg", /Read the scale again/],
    ["no weight", () => second, "heavy", /not an amount/],
  ])("refuses %s", async (_what, code, gross, sentence) => {
    const answer = await weigh(code(), gross)
    expect(answer.status).toBe(422)
    expect(answer.text).toMatch(sentence)
    expect(answer.text).toContain(`value="${gross}"`)
  })
})

describe("a shelf", () => {
  test("scanned anywhere leads to what stands there; a code typed there is put there", async () => {
    const go = await here.get("/go?code=PLACE:Shelf 2, left")
    expect(go.headers.location).toBe("/shelf/place?name=Shelf+2%2C+left")
    keys += 1
    const put = await here.post("/shelf/place", { key: `put-key-${keys}`, name: "shelf 2, LEFT", code: half })
    expect(put.status, put.text).toBe(303)
    // small and capital letters are one place
    expect(at(half).place).toBe("Shelf 2, left")
    keys += 1
    const again = await here.post("/shelf/place", {
      key: `put-key-${keys}`,
      name: "Shelf 2, left",
      code: half,
    })
    expect(again.status).toBe(409)
    expect(again.text).toContain("is there already")
  })

  test("is no new thing when it is scanned while receiving", async () => {
    expect((await here.get("/receive/lookup?code=PLACE:Shelf+2,+left")).body.kind).toBe("place")
    expect((await here.get("/receive/own?code=PLACE:Shelf+2,+left")).text).toContain(
      "This is one of your shelves.",
    )
  })
})

test("all of it keeps every rule of the book", () => {
  expect(verify(studio.file)).toEqual([])
})
