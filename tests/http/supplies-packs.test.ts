import { beforeEach, describe, expect, test } from "vitest"
import { containerCode } from "../../server/domain/studio-code.ts"
import {
  addMaker,
  addPack,
  addSeller,
  addSupply,
  packById,
  packs,
  packsByCode,
} from "../../server/supplies/service.ts"
import { here, KEY, refused, SCRIPT, SCRIPT_AS_TEXT, studio, thing, withSetupPages } from "./setup-pages.ts"

withSetupPages()

describe("packs", () => {
  let paint: number
  let resin: number
  let maker: number
  let seller: number
  beforeEach(() => {
    paint = addSupply(studio, thing("Harbor blue"))
    resin = addSupply(studio, thing("Clear A", { kind: "resin", baseUnit: "uL" }))
    maker = addMaker(studio, { name: "Alder" })
    seller = addSeller(studio, { name: "North Door", leadTimeDays: 4 })
  })
  const form = () => ({
    key: KEY,
    name: "Kit",
    makerId: String(maker),
    "contents[0][supplyId]": String(paint),
    "contents[0][amount]": "340 g",
    "contents[0][containerCount]": "6",
    "contents[1][supplyId]": "",
    "contents[1][amount]": "",
    "contents[1][containerCount]": "1",
    "contents[2][supplyId]": String(resin),
    "contents[2][amount]": "16 fl oz",
    "contents[2][containerCount]": "1",
    "codes[0][code]": "4123 4567 8903",
    "codes[1][code]": "",
    "codes[2][code]": "HB/6",
    "prices[0][sellerId]": String(seller),
    "prices[0][price]": "$38.50",
  })

  test("a kit is kept with its lines filled in, empty ones left out, its item number in 14 digits", async () => {
    const answer = await here.post("/setup/packs/new", form())
    expect(answer.status).toBe(303)
    expect(packs(studio)).toMatchObject([
      {
        name: "Kit",
        maker: "Alder",
        codes: ["00412345678903", "HB/6"],
        contents: [
          { supplyId: paint, amount: 340_000, containerCount: 6 },
          // 16 × 29.5735295625 mL
          { supplyId: resin, amount: 473_176, containerCount: 1 },
        ],
        offers: [{ sellerId: seller, priceMicro: 38_500_000 }],
      },
    ])
  })

  test("prices that fall with the number of packs are kept and shown, and stay when the pack is changed", async () => {
    const breaks = {
      "prices[0][from1]": "3",
      "prices[0][price1]": "36",
      "prices[0][from2]": "6",
      "prices[0][price2]": "33.5",
    }
    await here.post("/setup/packs/new", { ...form(), ...breaks })
    const kept = [
      { fromCount: 3, priceMicro: 36_000_000 },
      { fromCount: 6, priceMicro: 33_500_000 },
    ]
    expect(packs(studio)[0]?.offers).toMatchObject([{ priceMicro: 38_500_000, breaks: kept }])
    expect((await here.get(`/setup/packs/${packs(studio)[0]?.id}`)).text).toMatch(
      /name="prices\[0\]\[price2\]"[^>]*value="33.5"/,
    )
  })

  test.each([
    ["a price that rises", { "prices[0][from1]": "3", "prices[0][price1]": "40" }, "falling prices"],
    [
      "a number that falls",
      {
        "prices[0][from1]": "6",
        "prices[0][price1]": "36",
        "prices[0][from2]": "3",
        "prices[0][price2]": "33",
      },
      "rising numbers",
    ],
    ["a price from no number", { "prices[0][price1]": "36" }, "From how many packs"],
  ])("cheaper by number with %s is refused", async (_what, over, sentence) => {
    await refused("/setup/packs/new", { ...form(), ...over }, sentence)
    expect(packs(studio)).toEqual([])
  })

  test("its page shows what was kept, and saving that again changes nothing", async () => {
    await here.post("/setup/packs/new", form())
    const [before] = packs(studio)
    const { text } = await here.get(`/setup/packs/${before?.id}`)
    const sent: Record<string, string> = {}
    for (const [, name, value] of text.matchAll(/<input[^>]* name="([^"]+)"[^>]* value="([^"]*)"/g)) {
      sent[String(name)] = String(value)
    }
    for (const [, name, options] of text.matchAll(/<select[^>]* name="([^"]+)"[^>]*>([\s\S]*?)<\/select>/g)) {
      sent[String(name)] = /value="([^"]*)" selected/.exec(String(options))?.[1] ?? ""
    }
    expect((await here.post(`/setup/packs/${before?.id}`, sent)).status).toBe(303)
    expect(packs(studio)).toEqual([before])
  })

  test("a page can be asked for with a supply and a scanned code filled in, shown as text", async () => {
    const { text } = await here.get(`/setup/packs/new?supply=${paint}&code=${encodeURIComponent(SCRIPT)}`)
    expect(text).toContain(`value="${paint}" selected`)
    expect(text).toContain(SCRIPT_AS_TEXT)
    expect(text).not.toContain("<script>")
    expect((await here.get("/setup/packs/new?supply=1%20or%201&code[]=x")).status).toBe(200)
  })

  test.each([
    [
      "a wrong check digit",
      { "codes[0][code]": "412345678901" },
      "The last digit should be 3",
      "codes-0-code",
    ],
    [
      "a label of the studio itself",
      { "codes[2][code]": containerCode(1) },
      "one of your own labels",
      "codes-2-code",
    ],
    [
      "an amount in the wrong unit",
      { "contents[2][amount]": "5 kg" },
      "counted by volume",
      "contents-2-amount",
    ],
    ["an amount of zero", { "contents[0][amount]": "0" }, "Zero is no amount", "contents-0-amount"],
    ["no amount", { "contents[2][amount]": "" }, "Write how much there is", "contents-2-amount"],
    [
      "half a container",
      { "contents[0][containerCount]": "1.5" },
      "whole number from 1 to 1,000",
      "contents-0-containerCount",
    ],
    [
      "a thousand and one",
      { "contents[0][containerCount]": "1001" },
      "whole number from 1 to 1,000",
      "contents-0-containerCount",
    ],
    ["a price in words", { "prices[0][price]": "cheap" }, "is not a price", "prices-0-price"],
    [
      "euros in a dollar studio",
      { "prices[0][price]": "€38.50" },
      "prices here are in USD",
      "prices-0-price",
    ],
    ["a price below zero", { "prices[0][price]": "-1" }, "cannot be below zero", "prices-0-price"],
    [
      "a supply that is not there",
      { "contents[0][supplyId]": "999" },
      "choose one from the list",
      "contents-0-supplyId",
    ],
    ["a maker that is not there", { makerId: "999" }, "choose one from the list", "makerId"],
  ])("%s is refused beside its own field", async (_what, over, sentence, field) => {
    const answer = await refused("/setup/packs/new", { ...form(), ...over }, sentence)
    expect(answer.text).toContain(`id="f-${field}-error"`)
    expect(packs(studio)).toEqual([])
  })

  test("nothing inside, or far too many lines, is refused", async () => {
    await refused("/setup/packs/new", { key: KEY, name: "Air" }, "A pack needs something inside")
    const many = Object.fromEntries(
      Array.from({ length: 50 }, (_, i) => [`contents[${i}][supplyId]`, String(paint)]),
    )
    await refused("/setup/packs/new", { key: KEY, name: "All", ...many }, "more than 20 supplies in one pack")
    expect(packs(studio)).toEqual([])
  })

  test("eight digits that can be read two ways ask for the long form", async () => {
    const both = twoWayDigits()
    const answer = await here.post("/setup/packs/new", { ...form(), "codes[0][code]": both })
    expect(answer.status).toBe(422)
    expect(answer.text).toContain("can be read in two ways")
    expect(answer.text).toContain(`000000${both}`)
  })

  test("a code of odd digits that was scanned stays when the pack is saved again", async () => {
    const contents = [{ supplyId: paint, amount: 1, containerCount: 1 }]
    const id = addPack(studio, { name: "Odd", makerId: null, codes: ["9520000000001"], contents, offers: [] })
    const kept = {
      key: KEY,
      name: "Odd",
      "contents[0][supplyId]": String(paint),
      "contents[0][amount]": "1 mg",
    }
    const answer = await here.post(`/setup/packs/${id}`, {
      ...kept,
      "contents[0][containerCount]": "1",
      "codes[0][code]": "9520000000001",
    })
    expect(answer.status).toBe(303)
    expect(packById(studio, id).codes).toEqual(["9520000000001"])
    expect(packsByCode(studio, "9520000000001")).toHaveLength(1)
  })
})

/** Eight digits right both as UPC-E and as EAN-8, found by trying: the two rules weigh the digits differently. */
function twoWayDigits(): string {
  const check = (digits: string) => {
    const sum = [...digits]
      .reverse()
      .reduce((total, digit, i) => total + Number(digit) * (i % 2 === 0 ? 3 : 1), 0)
    return String((10 - (sum % 10)) % 10)
  }
  for (let i = 10_000; i < 99_999; i++) {
    // a last digit of 5 in the body: five digits, four zeros, the 5
    const body = `0${i}5`
    const ean8 = check(body)
    if (ean8 === check(`0${i}00005`)) return body + ean8
  }
  throw new Error("there are none")
}
