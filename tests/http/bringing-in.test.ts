import { readdirSync, readFileSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import Papa from "papaparse"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { bringingInRoutes } from "../../server/bringing-in/routes.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { undo } from "../../server/history/service.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { addSupply, makers, packs, sellers, suppliesList } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { sendTable } from "../support/bring-in.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

let studio = testStudio()
let here: Listening
beforeAll(async () => {
  here = await listenWith(
    {
      get file() {
        return studio.file
      },
      now: () => studio.now(),
    },
    [bringingInRoutes, historyRoutes],
  )
})
afterAll(() => here.close())

const lines = (...rows: string[]) => `${rows.join("\r\n")}\r\n`
const lastAction = () =>
  studio.file.firstText<{ id: number; summary: string }>("SELECT id, summary FROM action ORDER BY id DESC")

/** Sends a file that is looked over at once. @returns its page */
async function look(
  kind: string,
  text: string | Uint8Array,
  decimals?: string,
): Promise<{ to: string; text: string }> {
  const { to, sentence } = await sendTable(here, kind, text, decimals)
  if (to === undefined) throw new Error(sentence)
  return { to, text: (await here.get(to).expect(200)).text }
}

/** What stands in the list under a heading. */
function listUnder(heading: string, html: string): string[] {
  const list = new RegExp(`<h3>${heading}</h3>\\s*<ul[^>]*>(.*?)</ul>`, "s").exec(html)?.[1] ?? ""
  return [...list.matchAll(/<li>(.*?)<\/li>/g)].map(([, said = ""]) => said)
}

async function accept(to: string): Promise<void> {
  const [key = ""] = keysIn((await here.get(to)).text)
  await here.post(to, { key }).expect(303)
}

async function bring(kind: string, text: string, decimals?: string): Promise<void> {
  await accept((await look(kind, text, decimals)).to)
}

describe("a good file", () => {
  test("names what it will add, the first twenty of them, and how many more", async () => {
    studio = testStudio()
    const names = Array.from({ length: 23 }, (_, n) => `Paint ${String.fromCharCode(65 + n)}`)
    const { to, text } = await look(
      "supplies",
      lines("Name,Kind,Counted by", ...names.map((name) => `${name},paint,volume`)),
    )
    expect(listUnder("Will be added", text)).toEqual(names.slice(0, 20))
    expect(text).toContain("And 3 more.")
    await accept(to)
    const more = lines("Name,Kind,Counted by,Minimum", "Paint A,paint,volume,50 mL", "Paint Z,paint,volume,")
    const second = await look("supplies", more)
    expect(listUnder("Will be added", second.text)).toEqual(["Paint Z"])
    expect(listUnder("Will be changed", second.text)).toEqual(["Paint A: minimum 0 mL → 50 mL"])
    expect(second.text).not.toMatch(/And \d+ more/)
  })

  test("who makes and sells is named with what is new about them; stock with how much and its lot", async () => {
    studio = testStudio()
    await bring("makers-and-sellers", lines("Name,Is", "Old Kiln,maker"))
    const people = await look(
      "makers-and-sellers",
      lines("Name,Is,Lead time days", "Old Kiln,both,3", "Harbour,maker and seller,4", "Quay,seller,2"),
    )
    expect(listUnder("Will be added", people.text)).toEqual([
      "Old Kiln, seller",
      "Harbour, maker and seller",
      "Quay, seller",
    ])
    addSupply(studio, plainSupply("Teal"))
    addSupply(studio, plainSupply("Lids", { baseUnit: "each" }))
    const stock = await look(
      "opening-stock",
      lines("Supply,Holds,In it now,How many,Lot", "Teal,250 mL,180 mL,1,T-41", "Lids,25,,2,"),
    )
    expect(listUnder("Will be added", stock.text)).toEqual([
      "Teal, 180 mL of 250 mL, lot T-41",
      "2 × Lids, 25 pcs",
    ])
  })

  test("one phrase for who does both", async () => {
    studio = testStudio()
    expect((await here.get("/setup/bring-in").expect(200)).text).toContain(
      "maker, seller, or maker and seller",
    )
    const { text } = await look("makers-and-sellers", lines("Name,Is", "Quay,either", "Harbour,"))
    expect(text).toContain("“either” is none of: maker, seller, maker and seller.")
    expect(text).toContain("write maker, seller, or maker and seller.")
  })
})

describe("three bad rows", () => {
  const good = ["Teal paint,paint,volume,200 mL", "Nitrile gloves,consumable,pieces,20"]
  const file = lines(
    "Name,Kind,Counted by,Minimum",
    good[0]!,
    "Copper paint,colour,volume,100 mL",
    good[1]!,
    "Silver glitter,glitter,weight,lots",
    ",paint,volume,",
  )

  test("are named, downloaded, mended, accepted, and undone", async () => {
    studio = testStudio()
    const { to, text } = await look("supplies", file)
    expect(text).toContain("3 rows cannot be brought in")
    expect(text).toContain("Row 3")
    expect(text).toContain("Kind: “colour” is none of: resin,")
    expect(text).toContain("Row 5")
    expect(text).toContain("Minimum: “lots” is not an amount")
    expect(text).toContain("Row 6")
    expect(text).toContain("Name: it is missing.")
    expect(text).not.toContain("Bring in 2")
    // back to the very form that takes it, not to the first of four
    expect(text).toContain('href="/setup/bring-in#supplies">Send the mended file')
    expect((await here.get("/setup/bring-in")).text).toContain('<li class="card" id="supplies">')
    const [key = ""] = keysIn(text)
    await here.post(to, { key }).expect(422)
    expect(suppliesList(studio)).toEqual([])

    const download = await here.get(`${to}/what-is-wrong.csv`).expect(200)
    const { data } = Papa.parse<string[]>(download.text.replace(/^\u{feff}/u, ""), { skipEmptyLines: true })
    expect(data[0]).toEqual(["Name", "Kind", "Counted by", "Minimum", "What is wrong"])
    expect(data.slice(1).map((row) => row[4] !== "")).toEqual([false, true, false, true, true])

    data[2]![1] = "paint"
    data[4]![3] = "40 g"
    data[5]![0] = "Sea salt"
    const mended = await look("supplies", `\u{feff}${Papa.unparse(data)}`)
    expect(mended.text).toContain("All of the file can be brought in")
    expect(mended.text).toContain("Bring in 5 supplies")
    expect(mended.text).not.toContain("passed over")
    await accept(mended.to)
    expect(
      suppliesList(studio)
        .map(({ name }) => name)
        .sort(),
    ).toEqual(["Copper paint", "Nitrile gloves", "Sea salt", "Silver glitter", "Teal paint"])
    expect(lastAction()?.summary).toBe("Brought in 5 supplies")
    undo(studio, someone(), lastAction()!.id)
    expect(suppliesList(studio)).toEqual([])
    expect(verify(studio.file)).toEqual([])
  })

  test("sent twice by an impatient hand are brought in once", async () => {
    studio = testStudio()
    const { to, text } = await look("supplies", lines("Name,Kind,Counted by", "Teal,paint,volume"))
    const [key = ""] = keysIn(text)
    await here.post(to, { key }).expect(303)
    await here.post(to, { key }).expect(303)
    await here.post(to, { key: "another-key-1" }).expect(409)
    expect(suppliesList(studio)).toHaveLength(1)
    const again = await look("supplies", lines("Name,Kind,Counted by", "Teal,paint,volume"))
    expect(again.text).toContain("Nothing to do")
    expect(again.text).toContain("This very file was brought in on Tue 1 Dec")
  })
})

describe("however the table is written", () => {
  test.each([
    ["commas, LF", (rows: string[][]) => Papa.unparse(rows, { newline: "\n" })],
    [
      "commas, CRLF, a mark of UTF-8",
      (rows: string[][]) => `\u{feff}${Papa.unparse(rows, { newline: "\r\n" })}`,
    ],
    ["semicolons", (rows: string[][]) => Papa.unparse(rows, { delimiter: ";" })],
    ["tabs", (rows: string[][]) => Papa.unparse(rows, { delimiter: "\t" })],
    ["every cell in quotes", (rows: string[][]) => Papa.unparse(rows, { quotes: true })],
    ["empty rows between", (rows: string[][]) => Papa.unparse(rows).replaceAll("\r\n", "\r\n\r\n,,,\r\n")],
  ])("%s, it is the same table", async (_how, write) => {
    studio = testStudio()
    const rows = [
      ["name", "KIND", "counted_by", "Note"],
      ['Teal, "deep"; bright', "Paint", "By volume", "Shake; stir, wait"],
      ["Öl für Äste", "paint", "mL", ""],
    ]
    await bring("supplies", write(rows))
    expect(suppliesList(studio).map(({ name, note }) => [name, note])).toEqual([
      ['Teal, "deep"; bright', "Shake; stir, wait"],
      ["Öl für Äste", ""],
    ])
  })

  test("a line break in a quoted cell is told with its row, and the rows after it keep their numbers", async () => {
    studio = testStudio()
    const { text } = await look(
      "supplies",
      'Name,Kind,Counted by\n"Teal\npaint",paint,volume\nSand,sand,volume\n',
    )
    expect(text).toContain("Row 2")
    expect(text).toContain("it has line breaks")
    expect(text).toContain("Row 3")
  })

  test("decimals with a comma, as the file is said to be written; where nothing is said, what reads two ways is asked", async () => {
    studio = testStudio({ currency: "EUR" })
    const file = lines("Name;Is;Lead time days;Smallest order;Shipping", "Hafen;seller;4;1.250,50;6,5")
    await bring("makers-and-sellers", file, "comma")
    expect(sellers(studio)).toMatchObject([{ minimumMicro: 1_250_500_000, shippingMicro: 6_500_000 }])
    const { text } = await look(
      "makers-and-sellers",
      lines("Name;Is;Lead time days;Shipping", "Kai;seller;4;1,250"),
    )
    expect(text).toContain("can be read two ways")
    const said = await look(
      "makers-and-sellers",
      lines("Name;Is;Lead time days;Shipping", "Kai;seller;4;1,250"),
      "comma",
    )
    expect(said.text).toContain("Bring in 1 maker or seller")
  })

  test("a formula is a text: kept as it is, told harmless in the download, and the same when it comes back", async () => {
    studio = testStudio()
    const formula = '=HYPERLINK("http://x","y")'
    const rows = [
      ["Name", "Kind", "Counted by"],
      [formula, "paint", "volume"],
      ["Sand", "dust", "volume"],
    ]
    const { to } = await look("supplies", Papa.unparse(rows))
    const download = (await here.get(`${to}/what-is-wrong.csv`)).text
    expect(download).toContain("'=HYPERLINK")
    const { data } = Papa.parse<string[]>(download.replace(/^\u{feff}/u, ""), { skipEmptyLines: true })
    data[2]![1] = "abrasive"
    await bring("supplies", Papa.unparse(data))
    expect(
      suppliesList(studio)
        .map(({ name }) => name)
        .sort(),
    ).toEqual([formula, "Sand"])
  })
})

describe("what is no such table is refused with a sentence", () => {
  test.each([
    ["a spreadsheet's own file", new Uint8Array([0x50, 0x4b, 3, 4, 20, 0]), "Save it there as CSV"],
    ["a picture", new Uint8Array([0x89, 0x50, 0x4e, 0x47, 0, 0, 0, 1]), "no file of text"],
    ["UTF-16", new Uint8Array([0xff, 0xfe, 0x4e, 0]), "UTF-16"],
    [
      "another alphabet",
      new Uint8Array([...new TextEncoder().encode("Name,Kind,Counted by\n"), 0xe9, 0x2c]),
      "UTF-8",
    ],
    ["nothing", "", "There is nothing in that file"],
    ["other columns", "Article,Sort\nTeal,paint\n", "no column “Name”"],
    ["a column twice", "Name,Name,Kind,Counted by\na,b,paint,volume\n", "stands in the file twice"],
  ])("%s", async (_what, bytes, sentence) => {
    studio = testStudio()
    const answer = await sendTable(here, "supplies", bytes)
    expect(answer.status).toBe(422)
    expect(answer.sentence).toContain(sentence)
  })

  test.each([
    [
      "a quotation mark that is not closed",
      'Name,Kind,Counted by\n"Teal,paint,volume\nSand,paint,volume\n',
      "Row 2",
    ],
    ["a huge cell", `Name,Kind,Counted by\n${"x".repeat(30_000)},paint,volume\n`, "longer than any row"],
    ["heads alone", "Name,Kind,Counted by\n", "no row under the heads"],
  ])("%s", async (_what, bytes, sentence) => {
    studio = testStudio()
    expect((await look("supplies", bytes)).text).toContain(sentence)
  })

  test("a form, an unknown kind, a file that is gone", async () => {
    await here.post("/setup/bring-in/supplies/upload", { key: "some-key-1" }).expect(415)
    expect((await sendTable(here, "cups", "a,b\n")).status).toBe(404)
    await here.get("/setup/bring-in/files/0123456789abcdef").expect(404)
  })
})

describe("what is there already", () => {
  test("is found by its name, keeps what the file leaves empty, and is changed where the file says otherwise", async () => {
    studio = testStudio()
    const id = addSupply(
      studio,
      plainSupply("Teal paint", { note: "Shake well", minimumAmount: 100_000, colour: "#112233" }),
    )
    addSupply(studio, plainSupply("Sand"))
    const { to, text } = await look(
      "supplies",
      lines(
        "Name,Kind,Counted by,Minimum,Note,Keeps",
        "TEAL PAINT,paint,volume,250 mL,,2 years",
        "Sand,paint,volume,,,",
        "New one,paint,volume,,,",
      ),
    )
    expect(text).toContain("Teal paint: keeps not known → 24 months, minimum 100 mL → 250 mL")
    for (const [what, n] of [
      ["New", 1],
      ["Changed", 1],
      ["There already, as they are", 1],
    ] as const)
      expect(text).toContain(`<dt>${what}</dt><dd>${n}</dd>`)
    await accept(to)
    const teal = () => suppliesList(studio).find((supply) => supply.id === id)
    expect(teal()).toMatchObject({
      name: "Teal paint",
      note: "Shake well",
      minimumAmount: 250_000,
      shelfLife: { unit: "months", value: 24 },
    })
    undo(studio, someone(), lastAction()!.id)
    expect(teal()).toMatchObject({ minimumAmount: 100_000, shelfLife: null })
    expect(suppliesList(studio)).toHaveLength(2)
  })

  test("in use, cannot be counted another way; and what is brought in cannot be undone once something rests on it", async () => {
    studio = testStudio()
    await bring("supplies", lines("Name,Kind,Counted by", "Teal,paint,volume", "Sand,paint,volume"))
    const brought = lastAction()!.id
    await bring("packs", lines("Pack,Supply,Holds", "Teal 250,Teal,250 mL"))
    const { text } = await look("supplies", lines("Name,Kind,Counted by", "Teal,paint,weight"))
    expect(text).toContain("Counted by: Teal must stay counted as it is, because packs contain it.")
    expect(() => undo(studio, someone(), brought)).toThrow(/a pack contains it.*Brought in 1 pack/)
    expect(suppliesList(studio)).toHaveLength(2)
    undo(studio, someone(), lastAction()!.id)
    undo(studio, someone(), brought)
    expect(suppliesList(studio)).toEqual([])
    expect(verify(studio.file)).toEqual([])
  })

  test("changed while the file lay there, refuses all of it with the row", async () => {
    studio = testStudio()
    const { to, text } = await look(
      "supplies",
      lines("Name,Kind,Counted by", "Sand,paint,volume", "Teal,paint,weight"),
    )
    await bring("supplies", lines("Name,Kind,Counted by", "Teal,paint,volume"))
    await bring("packs", lines("Pack,Supply,Holds", "Teal 250,Teal,250 mL"))
    const [key = ""] = keysIn(text)
    const answer = await here.post(to, { key }).expect(409)
    expect(answer.text).toContain("Nothing was brought in. Row 3:")
    expect(suppliesList(studio).map(({ name }) => name)).toEqual(["Teal"])
  })
})

test("suppliers, supplies, packs with codes and what is on the shelf, each from its own template, and back again", async () => {
  studio = testStudio()
  await bring(
    "makers-and-sellers",
    lines("Name,Is,Lead time days", "Reef Works,maker,", "Harbour Supply,seller,4", "Both & Sons,both,2"),
  )
  expect(makers(studio).map(({ name }) => name)).toEqual(["Both & Sons", "Reef Works"])
  expect(sellers(studio).map(({ name, leadTimeDays }) => [name, leadTimeDays])).toEqual([
    ["Both & Sons", 2],
    ["Harbour Supply", 4],
  ])
  await bring(
    "supplies",
    lines(
      "Name,Kind,Counted by,Density,Keeps,Hazards",
      "Clear A,resin,volume,1.1,2 years,can cause a skin allergy | eye-irritant",
      "Clear B,hardener,volume,1.0,1 year,",
      "Gloves,consumable,pieces,,never,",
    ),
  )
  expect(suppliesList(studio).find(({ name }) => name === "Clear A")?.hazards).toEqual([
    "eye-irritant",
    "skin-sensitiser",
  ])
  await bring(
    "packs",
    lines(
      "Pack,Maker,Code,Supply,Holds,Containers,Seller,Price",
      "Clear kit,Reef Works,9520000000011,Clear A,473 mL,1,Harbour Supply,39.90",
      "Clear kit,,,Clear B,473 mL,,,",
      "Gloves 100,,,Gloves,100,1,Both & Sons,11",
    ),
  )
  expect(packs(studio)).toMatchObject([
    {
      name: "Clear kit",
      maker: "Reef Works",
      codes: ["09520000000011"],
      contents: [{ supply: "Clear A", amount: 473_000 }, { supply: "Clear B" }],
      offers: [{ seller: "Harbour Supply", priceMicro: 39_900_000 }],
    },
    { name: "Gloves 100", contents: [{ amount: 100 }] },
  ])
  const same = await look(
    "packs",
    lines("Pack,Supply,Holds,Seller,Price", "Gloves 100,Gloves,100,Both & Sons,12.50"),
  )
  expect(same.text).toContain("Gloves 100: price")

  const packsDone = lastAction()!.id
  await bring(
    "opening-stock",
    lines(
      "Supply,Holds,In it now,How many,Open,Lot,Maker,Expires,Cost,Place",
      "Clear A,473 mL,473 mL,2,no,R-1,Reef Works,12/2027,20,Shelf A",
      "Clear B,473 mL,200 mL,1,,R-1,Reef Works,,20,",
      "Gloves,100,40,1,yes,,,,11,",
    ),
  )
  const shelf = onHand(studio.file, "America/Chicago")
  expect(
    shelf.map(({ supply, amountLeft, costLeftMicro, lotNumber, useBy, place }) => [
      supply,
      amountLeft,
      costLeftMicro,
      lotNumber,
      useBy,
      place,
    ]),
  ).toEqual([
    ["Clear A", 473_000, 20_000_000, "R-1", "2027-12-31", "Shelf A"],
    ["Clear A", 473_000, 20_000_000, "R-1", "2027-12-31", "Shelf A"],
    // by hand: 20.00 × 200 / 473, rounded down to the millionth
    ["Clear B", 200_000, 8_456_659, "R-1", null, null],
    ["Gloves", 40, 4_400_000, null, null, null],
  ])
  expect(shelf.map(({ openedOn }) => openedOn !== null)).toEqual([false, false, true, true])
  expect(verify(studio.file)).toEqual([])
  undo(studio, someone(), lastAction()!.id)
  expect(onHand(studio.file, "America/Chicago")).toEqual([])
  expect(verify(studio.file)).toEqual([])
  expect(lastAction()?.summary).toContain("Undone: Brought in 3 rows of stock")
  undo(studio, someone(), packsDone)
  expect(packs(studio)).toEqual([])
})

test("rows that do not fit are told in plain words", async () => {
  studio = testStudio()
  await bring("supplies", lines("Name,Kind,Counted by", "Teal,paint,volume", "Cup,blank,pieces"))
  const { text } = await look(
    "opening-stock",
    lines(
      "Supply,Holds,In it now,How many,Lot,Expires,Cost",
      "Teal,100 mL,200 mL,1,,,",
      "Reef,100 mL,,1,,,",
      "Cup,6,2.5,1,,,",
      "Teal,100 g,,1,,,",
      "Teal,100 mL,,900,,,",
      "Teal,100 mL,,1,L-1,12/2027,",
      "Teal,100 mL,,1,L-1,11/2027,",
      "Teal,100 mL,,1,,03/04/2027,-5",
      "Teal,100 mL,,1,,,1,2,3",
    ),
  )
  for (const said of [
    "There cannot be more in it than it holds when full.",
    "there is no supply called “Reef”",
    "Pieces are counted whole",
    "must be a whole number from 1 to 200",
    "lot L-1 goes off on 2027-12-31",
    "A price cannot be below zero",
    "must stand in quotation marks",
  ])
    expect(text).toContain(said)
  expect(text).toContain("8 rows cannot be brought in")
  const doubles = await look(
    "makers-and-sellers",
    lines("Name,Is,Lead time days", "Kai,seller,3", "KAI,seller,3", "New,seller,"),
  )
  expect(doubles.text).toContain("stands in the file twice as a seller")
  expect(doubles.text).toContain("write how many days a new seller takes")
})

test("a template is read back as it stands", async () => {
  studio = testStudio()
  for (const kind of ["makers-and-sellers", "supplies", "packs", "opening-stock"]) {
    const { text } = await here.get(`/setup/bring-in/${kind}/template.csv`).expect(200)
    const { to, text: page } = await look(kind, text)
    expect(page).toContain("Bring in 1 ")
    await accept(to)
  }
})

test("a file that was swept away meanwhile is asked for again, and Lotcup goes on", async () => {
  studio = testStudio()
  const before = new Set(sweepable())
  const { to, text } = await look("supplies", lines("Name,Kind,Counted by", "Teal,paint,volume"))
  for (const path of sweepable().filter((one) => !before.has(one))) {
    if (readFileSync(path, "utf8").endsWith("Teal,paint,volume\r\n")) rmSync(path)
  }
  const [key = ""] = keysIn(text)
  const answer = await here.post(to, { key }).expect(422)
  expect(answer.text).toContain("not held here any more")
  expect(suppliesList(studio)).toEqual([])
  await bring("supplies", lines("Name,Kind,Counted by", "Teal,paint,volume"))
})

function sweepable(): string[] {
  return readdirSync(tmpdir())
    .filter((name) => name.startsWith("lotcup-upload-"))
    .map((name) => join(tmpdir(), name))
}
