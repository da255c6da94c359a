import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { containerCode } from "../../server/domain/studio-code.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { labelsRoutes } from "../../server/labels/routes.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { lookupRoutes } from "../../server/lookup/routes.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { openDelivery, receiveOpening } from "../../server/receiving/service.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { addSupply, packs, sellers, suppliesList } from "../../server/supplies/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { bottleWithCode, deliveryFrom, kitWithCode, plainSupply } from "../support/receiving-fixtures.ts"
import { someone, TODAY, testStudio } from "../support/studio.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

/** EAN-13 in prefix 952 and UPC-A beginning with 4: invented codes, set aside for such. */
const EAN = "9521234543213"
const UPC = "412345678903"
const HOSTILE = `"><script>alert(1)</script>`

const studio = testStudio()
const teal = bottleWithCode(studio, "Teal spray", [EAN], { hazards: ["aerosol"] })
const { packId: kit, partA, partB } = kitWithCode(studio, "Clear", ["KIT-1"])
bottleWithCode(studio, "Small tin", ["SHARED-9"])
bottleWithCode(studio, "Large tin", ["SHARED-9"])
const { deliveryId } = deliveryFrom(studio, "Harbour Supply")
const confirmTeal = `/receive/confirm?delivery=${deliveryId}&pack=${teal}`
const confirmKit = `/receive/confirm?delivery=${deliveryId}&pack=${kit}`
let here: Listening
let keys = 0

beforeAll(async () => {
  here = await listenWith(studio, [receivingRoutes, historyRoutes])
})
afterAll(() => here.close())

function key(): string {
  keys += 1
  return `receive-key-${keys}`
}

function tealForm(more: Record<string, string> = {}): Record<string, string> {
  const supplyId = String(suppliesList(studio).find((one) => one.name === "Teal spray")!.id)
  return {
    key: key(),
    count: "2",
    price: "9.50",
    "lots[0][supplyId]": supplyId,
    "lots[0][number]": "T-100",
    "lots[0][expires]": "12/2028",
    ...more,
  }
}

function kitForm(more: Record<string, string> = {}): Record<string, string> {
  return {
    key: key(),
    count: "1",
    price: "40",
    lotsAre: "one",
    "shared[number]": "",
    "shared[none]": "on",
    "lots[0][supplyId]": String(partA),
    "lots[1][supplyId]": String(partB),
    ...more,
  }
}

function lookup(code: string, symbology = "typed") {
  return here.get(`/receive/lookup?${new URLSearchParams({ code, symbology, delivery: String(deliveryId) })}`)
}

function rowsOf(table: string): number {
  return studio.file.firstText<{ n: number }>(`SELECT count(*) AS n FROM ${table}`)!.n
}

/** A refused form: 422, its sentence on the page, what was typed kept, nothing written. */
async function refused(path: string, fields: Record<string, string>, sentence: RegExp, kept?: string) {
  const before = [rowsOf("action"), rowsOf("container"), rowsOf("pack"), rowsOf("supply"), rowsOf("delivery")]
  const answer = await here.post(path, fields)
  expect(answer.status).toBe(422)
  expect(answer.text).toMatch(sentence)
  if (kept !== undefined) expect(answer.text).toContain(`value="${kept}"`)
  expect([
    rowsOf("action"),
    rowsOf("container"),
    rowsOf("pack"),
    rowsOf("supply"),
    rowsOf("delivery"),
  ]).toEqual(before)
  return answer
}

describe("a code leads to the thing", () => {
  test("an item number in any of its forms leads to its pack", async () => {
    const to = confirmTeal
    expect((await lookup(EAN, "EAN-13")).body).toEqual({ kind: "pack", to, sentence: null })
    expect((await lookup(EAN)).body.to).toBe(to)
    expect((await lookup(`0${EAN}`)).body.to).toBe(to)
    expect((await lookup("952 1234 543213")).body.to).toBe(to)
  })

  test("a wrong last digit is one sentence, with and without a script", async () => {
    const answer = await lookup("9521234543214", "EAN-13")
    expect(answer.body).toMatchObject({
      kind: "bad",
      to: null,
      sentence: expect.stringContaining("last digit should be 3"),
    })
    const page = await here.get(`/receive/scan?code=9521234543214&delivery=${deliveryId}`)
    expect(page.status).toBe(422)
    expect(page.text).toContain("last digit should be 3")
    expect(page.text).toContain('value="9521234543214"')
  })

  test("a code of two packs asks which, and each choice leads to its own", async () => {
    const { to } = (await lookup("SHARED-9", "Code 128")).body
    const page = await here.get(to)
    expect(page.text).toContain("Which of these is it?")
    expect(page.text).toContain("Small tin pack")
    expect(page.text).toContain("Large tin pack")
  })

  test("a code nobody knows leads to “what is it?” with the code filled in", async () => {
    const { kind, to } = (await lookup(UPC, "UPC-A")).body
    expect(kind).toBe("unknown")
    const page = await here.get(to)
    expect(page.text).toContain("What is it?")
    expect(page.text).toContain(`The code ${UPC} is not known yet.`)
  })

  test("without a script the typed code goes the same way", async () => {
    const answer = await here.get(`/receive/scan?_form=scan&code=KIT-1&delivery=${deliveryId}`)
    expect([answer.status, answer.headers.location]).toEqual([303, confirmKit])
  })

  test("what was scanned is shown as text, never as a link or as a tag", async () => {
    for (const code of [HOSTILE, "javascript:alert(1)", "https://evil.example/x?a=<b>"]) {
      const { kind, to } = (await lookup(code, "QR")).body
      expect(kind).toBe("unknown")
      const page = await here.get(to)
      expect(page.status).toBe(200)
      expect(page.text).not.toContain("<script>alert")
      expect(page.text).not.toMatch(/href="(javascript|https?):/)
    }
  })

  test.each([
    ["nothing", "code="],
    ["too much", `code=${"9".repeat(4001)}`],
    ["a made-up symbology", "code=KIT-1&symbology=PDF417"],
    ["a delivery that is none", "code=KIT-1&delivery=x"],
    ["two codes", "code=a&code=b"],
  ])("%s is refused with a sentence", async (_, query) => {
    const answer = await here.get(`/receive/lookup?${query}`).set("Accept", "application/json")
    expect(answer.status).toBe(400)
    expect(answer.body.sentence).toMatch(/\.$/)
  })
})

describe("confirming a thing", () => {
  test("takes it in, says the codes to write on it, lists it, and Undo takes it back", async () => {
    const shown = await here.get(confirmTeal)
    expect(shown.text).toContain("away from heaters")
    const [formKey] = keysIn(shown.text)
    const answer = await here.post(confirmTeal, tealForm({ key: formKey! }))
    expect([answer.status, answer.headers.location]).toEqual([303, `/receive?delivery=${deliveryId}`])

    const mine = onHand(studio.file, "America/Chicago")
    expect(mine).toHaveLength(2)
    expect(mine[0]).toMatchObject({ lotNumber: "T-100", useBy: "2028-12-31", costLeftMicro: 9_500_000 })
    const page = await here.get(answer.headers.location!).set("Cookie", cookiesOf(answer))
    expect(page.text).toContain(`Write on them: ${mine[0]!.code}, ${mine[1]!.code}.`)
    const undo = /action="(\/history\/\d+\/undo)"/.exec(page.text)![1]!
    await here.post(undo, { key: key(), returnTo: `/receive?delivery=${deliveryId}` })
    expect(onHand(studio.file, "America/Chicago")).toHaveLength(0)
    expect((await here.get(`/receive?delivery=${deliveryId}`)).text).toContain("undone")
  })

  test("the same form sent twice takes it in once", async () => {
    const form = tealForm({ count: "1" })
    const before = rowsOf("container")
    await here.post(confirmTeal, form)
    const again = await here.post(confirmTeal, form)
    expect(again.status).toBe(303)
    expect(rowsOf("container")).toBe(before + 1)
    const other = await here.post(confirmTeal, { ...form, count: "5" })
    expect(other.status).toBe(409)
  })

  test("a kit takes one label for both halves, none printed, or one each", async () => {
    expect((await here.post(confirmKit, kitForm())).status).toBe(303)
    await here.post(
      confirmKit,
      kitForm({
        lotsAre: "each",
        "lots[0][number]": "A-1",
        "lots[1][number]": "B-1",
        "lots[1][made]": "2026-11",
      }),
    )
    const clear = onHand(studio.file, "America/Chicago").filter((one) => one.supply.startsWith("Clear"))
    expect(clear.map((one) => one.lotNumber)).toEqual([null, null, "A-1", "B-1"])
    // a month alone means its first day where it says when something was made
    expect(clear[3]!.useBy).toBe("2027-11-01")
  })

  test("of a kit it is said which bottle gets which code", async () => {
    const codesOf = (supplyId: number) =>
      onHand(studio.file, "America/Chicago")
        .filter((one) => one.supplyId === supplyId)
        .map((one) => one.code)
    const said = async (count: number) => {
      const answer = await here.post(confirmKit, kitForm({ count: String(count) }))
      const page = await here.get(answer.headers.location!).set("Cookie", cookiesOf(answer))
      return /Write [^<]*/.exec(page.text)?.[0]
    }
    const one = await said(1)
    expect(one).toBe(`Write on them: A:\u00a0${codesOf(partA).at(-1)}, B:\u00a0${codesOf(partB).at(-1)}.`)
    const two = await said(2)
    expect(two).toBe(
      `Write on them: A:\u00a0${codesOf(partA).slice(-2).join(", ")}; B:\u00a0${codesOf(partB).slice(-2).join(", ")}.`,
    )
    const nine = await said(9)
    expect(nine).toBe(
      `Write on them: A:\u00a0${codesOf(partA).slice(-9, -7).join(", ")}; B:\u00a0${codesOf(partB).slice(-9, -7).join(", ")} and 14 more; all are in the list.`,
    )
  })

  test("the price paid last, and “none printed” where it was so last time, are filled in", async () => {
    const page = await here.get(confirmTeal)
    expect(page.text).toMatch(/name="price"[^>]*value="9\.50"/)
  })

  test.each([
    ["no lot and no tick", { "lots[0][number]": "" }, /Put the lot number, or tick/],
    [
      "gone off before it came",
      { "lots[0][number]": "T-101", "lots[0][expires]": "3 Nov 2026" },
      /went off on Tue 3 Nov, before it came/,
    ],
    [
      "made tomorrow",
      { "lots[0][number]": "T-102", "lots[0][made]": "2 Dec 2026" },
      /cannot have been made on Wed 2 Dec/,
    ],
    ["a day with two readings", { "lots[0][expires]": "03/12/2027" }, /can be read two ways/],
    ["none of it", { count: "0" }, /whole number from 1 to 1,000/],
    ["less than none", { count: "-3" }, /whole number from 1 to 1,000/],
    ["a count in words", { count: "two" }, /whole number from 1 to 1,000/],
    ["absurdly many", { count: "99999999999999999999" }, /whole number from 1 to 1,000/],
    ["a price below zero", { price: "-1" }, /cannot be below zero/],
    ["a price in words", { price: "cheap" }, /is not a price/],
    ["an absurd price", { price: "9".repeat(25) }, /more than a studio pays/],
    ["a lot number of a hundred characters", { "lots[0][number]": "9".repeat(100) }, /too long/],
  ])("%s is refused, and what was typed is kept", async (_, wrong, sentence) => {
    const form = tealForm(wrong)
    const [field, typed] = Object.entries(wrong)[0]!
    const answer = await refused(confirmTeal, form, sentence)
    if (typed !== "") expect(answer.text).toContain(`name="${field}"`)
    if (typed !== "") expect(answer.text).toContain(`value="${typed}"`)
  })

  test("a sentence about a shared label stands beside its field", async () => {
    const answer = await refused(
      confirmKit,
      kitForm({ "shared[expires]": "1 Oct 2026" }),
      /went off on/,
      "1 Oct 2026",
    )
    expect(answer.text).toMatch(/name="shared\[expires\]"[^>]*aria-invalid="true"/)
  })

  test("a lot of something else, a pack or delivery that is not there, a form without a key", async () => {
    await refused(confirmTeal, tealForm({ "lots[0][supplyId]": String(partA) }), /Put the lot of Teal spray/)
    expect((await here.post(`/receive/confirm?delivery=${deliveryId}&pack=999`, tealForm())).status).toBe(404)
    expect((await here.post(`/receive/confirm?delivery=999&pack=${teal}`, tealForm())).status).toBe(404)
    expect((await here.get("/receive/confirm?delivery=1&pack=1%27")).status).toBe(400)
    await refused(confirmTeal, tealForm({ key: "" }), /out of date/)
  })

  test("a hostile lot number is kept and shown as text", async () => {
    const answer = await here.post(confirmTeal, tealForm({ count: "1", "lots[0][number]": HOSTILE }))
    expect(answer.status).toBe(303)
    const page = await here.get(answer.headers.location!)
    expect(page.text).toContain("&lt;script&gt;alert(1)")
    expect(page.text).not.toContain("<script>alert")
  })
})

describe("what is it?", () => {
  const described = `/receive/new/described?delivery=${deliveryId}&code=${UPC}`
  const thing = () => ({
    key: key(),
    _form: "describe",
    name: "Copper glitter",
    kind: "glitter",
    holds: "113 g",
    containerCount: "1",
    makerName: "Sandpiper",
  })

  test("a new thing comes back ready to confirm, and its code is known from then on", async () => {
    const answer = await here.post(described, thing())
    expect(answer.status).toBe(303)
    expect(answer.headers.location).toContain("/receive/confirm?")
    expect((await here.get(answer.headers.location!)).text).toContain("Sandpiper Copper glitter, 113 g")
    expect((await lookup(UPC, "UPC-A")).body.to).toBe(answer.headers.location)
    expect(suppliesList(studio).find((one) => one.name === "Copper glitter")).toMatchObject({
      kind: "glitter",
      baseUnit: "mg",
      hazards: ["fine-dust"],
    })
    const before = rowsOf("pack")
    expect((await here.post(described, thing())).headers.location).toBe(answer.headers.location)
    expect(rowsOf("pack")).toBe(before)
  })

  test("a kit of two is described in one go", async () => {
    const answer = await here.post(`/receive/new/described?delivery=${deliveryId}&code=NEWKIT`, {
      ...thing(),
      name: "Slow part A",
      kind: "resin",
      holds: "1/2 gal",
      "second[name]": "Slow part B",
      "second[kind]": "hardener",
      "second[holds]": "1/2 gal",
    })
    const page = await here.get(answer.headers.location!)
    expect(page.text).toContain("The same on both")
    const made = packs(studio).find((pack) => pack.name.includes("Slow part A"))!
    expect(made.contents.map((one) => [one.supply, one.kind, one.amount])).toEqual([
      ["Slow part A", "resin", 1_892_706],
      ["Slow part B", "hardener", 1_892_706],
    ])
  })

  test("one that is known gets the code, and comes back ready to confirm", async () => {
    const answer = await here.post(`/receive/new/known?delivery=${deliveryId}&code=ANOTHER-1`, {
      key: key(),
      packId: String(teal),
    })
    expect(answer.headers.location).toBe(confirmTeal)
    expect((await lookup("ANOTHER-1", "Code 128")).body.to).toBe(confirmTeal)
  })

  test("a thing without a code is found by any words of its name", async () => {
    const page = await here.get(`/receive/new?delivery=${deliveryId}&q=tin+small`)
    expect(page.text).toContain("Small tin pack")
    expect(page.text).not.toContain("Large tin pack")
    const none = await here.get(`/receive/new?delivery=${deliveryId}&q=${encodeURIComponent(HOSTILE)}`)
    expect(none.text).toContain("Nothing here is called")
    expect(none.text).not.toContain("<script>alert")
  })

  test("a supply of the first day, of which no pack is known, is found too and fills in what is known of it", async () => {
    const supplyId = addSupply(
      studio,
      plainSupply("Nitrile gloves", { kind: "consumable", baseUnit: "each" }),
    )
    receiveOpening(studio, someone(), {
      supplyId,
      fullAmount: 100,
      amount: 50,
      opened: true,
      expiresOn: null,
    })
    const asked = `/receive/new?delivery=${deliveryId}&code=GLOVES-1`
    const found = (await here.get(`${asked}&q=gloves`)).text
    expect(found).toContain("Nitrile gloves")
    expect(found).not.toContain("Nothing here is called")
    const filled = (await here.get(`${asked}&supply=${supplyId}`)).text
    expect(filled).toMatch(/name="name"[^>]* value="Nitrile gloves"/)
    expect(filled).toMatch(/name="holds"[^>]* value="100 pcs"/)
    const to = `/receive/new/described?delivery=${deliveryId}&code=GLOVES-1`
    const gloves = { ...thing(), name: "Nitrile gloves", kind: "", holds: "100 pcs", makerName: "" }
    const confirm = (await here.post(to, gloves).expect(303)).headers.location!
    const pack = packs(studio).find(({ codes }) => codes.includes("GLOVES-1"))!
    expect(pack.contents).toMatchObject([{ supplyId, amount: 100 }])
    expect(confirm).toContain(`pack=${pack.id}`)
    // with a pack it is found as that
    expect((await here.get(`/receive/new?delivery=${deliveryId}&q=gloves`)).text).not.toContain(
      "no pack of it yet",
    )
  })

  test("what was looked for in vain is put in as its name", async () => {
    const page = (await here.get(`/receive/new?delivery=${deliveryId}&q=moon+dust`)).text
    expect(page).toMatch(/name="name"[^>]* value="moon dust"/)
  })

  test.each([
    ["no name", { name: "" }, /What it is is missing|What it is/],
    ["no kind", { name: "Something unheard of", kind: "" }, /Say what sort of thing/],
    ["a kind that is none", { kind: "gold" }, /choose one/],
    ["no unit on a paint", { name: "Red paint", kind: "paint", holds: "400" }, /Write the unit too/],
    ["nothing in it", { name: "Red paint", kind: "paint", holds: "0 mL" }, /Zero is no amount/],
    ["gibberish", { name: "Red paint", kind: "paint", holds: "lots" }, /is not an amount/],
    [
      "absurdly much",
      { name: "Red paint", kind: "paint", holds: "99999999999 gal" },
      /more than any studio holds/,
    ],
    [
      "ounces of a resin that may be weighed or fluid",
      { name: "Pour A", kind: "resin", holds: "16 oz" },
      /“oz” alone may be a weight or a volume: write “fl oz”/,
    ],
    ["no containers", { containerCount: "0" }, /whole number/],
  ])("%s is refused and adds nothing", async (_, wrong, sentence) => {
    await refused(
      `/receive/new/described?delivery=${deliveryId}&code=NOPE-1`,
      { ...thing(), ...wrong },
      sentence,
    )
  })
})

describe("a delivery", () => {
  test("is begun with a new seller, finished, and opened again", async () => {
    const begun = await here.post("/receive/deliveries", {
      key: key(),
      newSeller: "Mill Road Arts",
      leadTimeDays: "3",
      receivedOn: TODAY,
    })
    expect(begun.status).toBe(303)
    expect(sellers(studio).find((one) => one.name === "Mill Road Arts")).toMatchObject({ leadTimeDays: 3 })
    const now = openDelivery(studio)!
    expect(now.seller).toBe("Mill Road Arts")
    const finished = await here.post(`/receive/deliveries/${now.id}/close`, { key: key() })
    expect(openDelivery(studio)!.id).toBe(deliveryId)
    // nothing came with it, so there is nothing to print
    const empty = (await here.get(finished.headers.location!).expect(200)).text
    expect(empty).toContain("Nothing came in with it.")
    expect(empty).not.toContain("Print labels")
    const closed = await here.get(`/receive/lookup?code=KIT-1&delivery=${now.id}`)
    expect(closed.body).toMatchObject({
      to: null,
      sentence: expect.stringContaining("Begin a delivery first"),
    })
    await refused(`/receive/confirm?delivery=${now.id}&pack=${teal}`, tealForm(), /delivery is closed/)
    await here.post(`/receive/deliveries/${now.id}/reopen`, { key: key() })
    expect(openDelivery(studio)!.id).toBe(now.id)
    await here.post(`/receive/deliveries/${now.id}/close`, { key: key() })
  })

  test("once finished says what came and leads to its labels; a line is undone once it is opened again", async () => {
    const { deliveryId: other } = deliveryFrom(studio, "Quay Street")
    await here.post(`/receive/confirm?delivery=${other}&pack=${teal}`, tealForm({ count: "1" })).expect(303)
    const { location } = (await here.post(`/receive/deliveries/${other}/close`, { key: key() }).expect(303))
      .headers
    const page = (await here.get(location!).expect(200)).text
    expect(page).toContain("Teal spray pack")
    expect(page).toMatch(new RegExp(`href="/labels\\?delivery(=|&#x3D;)${other}"`))
    expect(page).not.toContain("Undo: Teal spray pack")
    await here.post(`/receive/deliveries/${other}/reopen`, { key: key() })
    expect((await here.get(location!)).text).toContain("Undo: Teal spray pack")
    await here.post(`/receive/deliveries/${other}/close`, { key: key() })
  })

  test("of tomorrow, of no day, or from nobody known is refused, and a new seller is not left behind", async () => {
    const before = sellers(studio).length
    await refused(
      "/receive/deliveries",
      { key: key(), newSeller: "Not kept", receivedOn: "2026-12-02" },
      /still to come/,
    )
    await refused(
      "/receive/deliveries",
      { key: key(), receivedOn: "2026-02-30" },
      /February 2026 has 28 days/,
    )
    await refused(
      "/receive/deliveries",
      { key: key(), sellerId: "777", receivedOn: TODAY },
      /not in the book/,
    )
    expect(sellers(studio)).toHaveLength(before)
    expect((await here.post("/receive/deliveries/999/close", { key: key() })).status).toBe(404)
  })
})

describe("the studio's own codes", () => {
  test("a container that is here offers to go to it; one that never was says so", async () => {
    const own = onHand(studio.file, "America/Chicago")[0]!
    const { kind, to } = (await lookup(own.code, "QR")).body
    expect(kind).toBe("own")
    const page = await here.get(to)
    expect(page.text).toContain(`href="/go?code&#x3D;${own.code}"`)
    expect(page.text).toContain(own.supply)
    const never = await here.get((await lookup(containerCode(99_999), "QR")).body.to)
    expect(never.text).toContain("none has this code")
    expect(never.text).not.toContain("/go?code")
  })
})

describe("the first day", () => {
  const form = (more: Record<string, string> = {}) => ({
    key: key(),
    name: "Old varnish",
    kind: "paint",
    holds: "500 mL",
    howFull: "1/4",
    opened: "no",
    count: "1",
    ...more,
  })

  test("an empty file opens with the welcome page, one in use with receiving", async () => {
    expect((await here.get("/")).headers.location).toBe("/receive")
    const empty = await listenWith(testStudio(), [receivingRoutes])
    expect((await empty.get("/")).headers.location).toBe("/welcome")
    expect((await empty.get("/receive")).status).toBe(200)
    await empty.close()
  })

  test("the welcome page offers the demo, what is on the shelf, and setting up", async () => {
    const page = await here.get("/welcome")
    expect(page.text).toContain("npm run demo")
    expect(page.text).toContain('href="/receive/opening"')
    expect(page.text).toContain('href="/setup"')
  })

  test("a quarter of a bottle is open whatever was tapped, and the form is there for the next", async () => {
    const answer = await here.post("/receive/opening", form())
    expect(answer.headers.location).toBe("/receive/opening")
    const varnish = onHand(studio.file, "America/Chicago").filter((one) => one.supply === "Old varnish")
    expect(varnish).toMatchObject([
      { amountLeft: 125_000, fullAmount: 500_000, openedOn: TODAY, lotNumber: null },
    ])
    const page = await here.get("/receive/opening").set("Cookie", cookiesOf(answer))
    expect(page.text).toContain(`Write ${varnish[0]!.code} on it.`)
    expect(page.text).toContain(`${varnish[0]!.code}</a> Old varnish, 125 mL`)
  })

  test("an exact amount, several alike, and a repeat of the same form", async () => {
    const sent = form({ howFull: "amount", amount: "80 mL", count: "2", price: "10" })
    await here.post("/receive/opening", sent)
    await here.post("/receive/opening", sent)
    const some = onHand(studio.file, "America/Chicago").filter((one) => one.amountLeft === 80_000)
    expect(some.map((one) => one.costLeftMicro)).toEqual([1_600_000, 1_600_000])
  })

  test("ounces say whether they are weighed or fluid; of what only comes by weight, and of cups, nothing is asked", async () => {
    const kept = async (name: string, kind: string, holds: string) => {
      const answer = await here.post("/receive/opening", form({ name, kind, holds, howFull: "full" }))
      return answer.status === 303
        ? onHand(studio.file, "America/Chicago").find((one) => one.supply === name)
        : answer.text
    }
    expect(await kept("Pour A", "resin", "16 oz")).toContain("write “fl oz” for fluid ounces")
    // 1 US fl oz is 29.5735 mL and 1 oz av 28.3495 g: NIST Handbook 44, appendix C
    expect(await kept("Pour A", "resin", "16 fl oz")).toMatchObject({ baseUnit: "uL", amountLeft: 473_176 })
    expect(await kept("Pour B", "hardener", "16 oz wt")).toMatchObject({
      baseUnit: "mg",
      amountLeft: 453_592,
    })
    expect(await kept("Gold dust", "glitter", "2 oz")).toMatchObject({ baseUnit: "mg", amountLeft: 56_699 })
  })

  test("what is counted by the piece is said in pieces", async () => {
    const said = async (holds: string, count: string) => {
      const answer = await here.post("/receive/opening", {
        ...form({ name: "Short cup", kind: "blank", holds, howFull: "full", count }),
      })
      const page = await here.get("/receive/opening").set("Cookie", cookiesOf(answer))
      return /Short cup: .*? on the shelf/.exec(page.text)?.[0]
    }
    expect(await said("1", "1")).toBe("Short cup: 1 was on the shelf")
    expect(await said("1", "6")).toBe("Short cup: 6 were on the shelf")
    expect(await said("12", "2")).toBe("Short cup: 2 × 12 were on the shelf")
  })

  test("all of the first day's things get their labels from its page, once there are any", async () => {
    const fresh = testStudio()
    const all = await listenWith(fresh, [receivingRoutes, labelsRoutes])
    try {
      expect((await all.get("/receive/opening")).text).not.toContain("Print labels")
      await all.post("/receive/opening", form({ name: "Old spray", count: "3", howFull: "full" })).expect(303)
      const { text } = await all.get("/receive/opening")
      const to = /href="(\/labels[^"]+)"/.exec(text)![1]!.replace("&#x3D;", "=")
      const labels = (await all.get(to).expect(200)).text
      expect(labels).toContain("3 labels, 3 pages.")
      expect(labels).toContain('href="/receive/opening"')
    } finally {
      await all.close()
    }
  })

  test("one past its day says so at once, and what nobody said a price of is not worth $0.00", async () => {
    const all = await listenWith(studio, [receivingRoutes, shelfRoutes])
    try {
      await all
        .post("/receive/opening", form({ name: "Old spray", expires: "1/2025", price: "" }))
        .expect(303)
      const { text } = await all.get("/receive/opening")
      expect(text).toMatch(/good until Fri 31 Jan 2025 <span class="pill pill-expired">expired/)
      const worthOf = async (index: number) => {
        const code = [...text.matchAll(/href="\/containers\/(K\w+)"/g)][index]![1]!
        const page = (await all.get(`/containers/${code}`).expect(200)).text
        return /Worth of what is left<\/dt><dd>([^<]*)/.exec(page)![1]
      }
      expect(await worthOf(0)).toBe("not known")
      await all.post("/receive/opening", form({ name: "Old spray", price: "8", howFull: "1/2" })).expect(303)
      const priced = (await all.get("/receive/opening")).text
      const [, code] = /href="\/containers\/(K\w+)"/.exec(priced)!
      expect((await all.get(`/containers/${code}`)).text).toContain("Worth of what is left</dt><dd>$4.00")
    } finally {
      await all.close()
    }
  })

  test("a lot number that is put in is followed like any other; without one the lot is unknown", async () => {
    const all = await listenWith(studio, [receivingRoutes, lookupRoutes, tracingRoutes])
    try {
      const labelled = { makerName: "Kiln works", lotNumber: "OV-77", expires: "12/2028" }
      await all.post("/receive/opening", form({ ...labelled, howFull: "full" }))
      await all.post("/receive/opening", form({ ...labelled, expires: "" }))
      const { headers } = await all.get("/go?code=OV-77").expect(302)
      expect(headers.location).toMatch(/^\/lots\/\d+$/)
      const { text } = await all.get(headers.location!).expect(200)
      const its = onHand(studio.file, "America/Chicago").filter((one) => one.lotNumber === "OV-77")
      expect(its.map((one) => [one.amountLeft, one.useBy])).toEqual([
        [500_000, "2028-12-31"],
        [125_000, "2028-12-31"],
      ])
      for (const { code } of its) expect(text).toContain(code)
      await refused(
        "/receive/opening",
        form({ ...labelled, expires: "1/2029" }),
        /<p class="error" id="f-expires-error">Lot OV-77 is in the book with expiry Sun 31 Dec 2028/,
        "OV-77",
      )
    } finally {
      await all.close()
    }
  })

  test.each([
    ["more in it than it holds", { howFull: "amount", amount: "501 mL" }, /more in it than it holds/],
    ["no amount", { howFull: "amount", amount: "" }, /Write how much there is/],
    [
      "a quarter of one lid",
      { name: "One lid", kind: "packaging", holds: "1", howFull: "1/4" },
      /less than one/,
    ],
    ["opened tomorrow", { openedOn: "2026-12-02" }, /still to come/],
    ["how full is not said", { howFull: "" }, /How full it is: choose one/],
  ])("%s is refused and leaves no new supply behind", async (_, wrong, sentence) => {
    await refused("/receive/opening", form({ name: "Never kept", ...wrong }), sentence)
  })
})
