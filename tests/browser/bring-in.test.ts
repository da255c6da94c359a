import { readFileSync } from "node:fs"
import Papa from "papaparse"
import type { Browser, Page } from "playwright-core"
import { afterAll, beforeAll, expect, test } from "vitest"
import { onHand } from "../../server/ledger/on-hand.ts"
import { suppliesList } from "../../server/supplies/service.ts"
import { emptyHouse, wholeApp } from "../support/demo-studio.ts"
import { launch } from "./support/launch.ts"
import { faultsOf, listenForErrors } from "./support/page-faults.ts"

const house = emptyHouse()
const { here } = await wholeApp(house)
let browser: Browser
let page: Page
let errors: string[]

beforeAll(async () => {
  browser = await launch()
  page = await browser.newPage({ viewport: { width: 1280, height: 800 } })
  errors = listenForErrors(page)
})
afterAll(async () => {
  await browser.close()
  await here.close()
  house.close()
})

/** Chooses a file on its card and has it looked over. */
async function send(card: string, text: string): Promise<void> {
  await page.goto(`${here.url}/setup/bring-in`)
  const on = page.locator("li.card").filter({ has: page.getByRole("heading", { name: card }) })
  await on.locator("input[type=file]").setInputFiles({
    name: "table.csv",
    mimeType: "text/csv",
    buffer: Buffer.from(text),
  })
  await on.getByRole("button", { name: "Look it over" }).click()
  await page.waitForURL("**/setup/bring-in/files/*")
}

test("a table with three bad rows: each is named, the download is mended and sent, all of it comes in, and is undone", async () => {
  await send(
    "Supplies",
    [
      "Name;Kind;Counted by;Minimum",
      "Teal paint;paint;volume;0,2 L",
      "Copper paint;colour;volume;100 mL",
      "Nitrile gloves;consumable;pieces;half",
      ";glitter;weight;",
    ].join("\r\n"),
  )
  await page.getByText("3 rows cannot be brought in").waitFor()
  for (const row of ["Row 3", "Row 4", "Row 5"]) await page.getByRole("rowheader", { name: row }).waitFor()
  expect(await page.getByRole("button", { name: /^Bring in/ }).count()).toBe(0)
  expect(await faultsOf(page, errors)).toEqual([])

  const coming = page.waitForEvent("download")
  await page.getByRole("link", { name: "Download with what is wrong" }).click()
  const text = readFileSync(await (await coming).path(), "utf8").replace(/^\u{feff}/u, "")
  const { data } = Papa.parse<string[]>(text, { skipEmptyLines: true })
  expect(data.map((row) => row.at(-1))).toEqual([
    "What is wrong",
    "",
    expect.stringContaining("“colour” is none of"),
    expect.stringContaining("“half” is not an amount"),
    "Name: it is missing.",
  ])
  data[2]![1] = "paint"
  data[3]![3] = "20"
  data[4]![0] = "Sea salt"
  await send("Supplies", Papa.unparse(data, { delimiter: ";" }))
  await page.getByText("All of the file can be brought in.").waitFor()
  await page.getByRole("button", { name: "Bring in 4 supplies" }).click()
  await page.getByText("Brought in 4 supplies.").waitFor()
  expect(suppliesList(house.studio).map(({ name, minimumAmount }) => [name, minimumAmount])).toEqual([
    ["Nitrile gloves", 20],
    ["Sea salt", 0],
    ["Copper paint", 100_000],
    ["Teal paint", 200_000],
  ])
  expect(await faultsOf(page, errors)).toEqual([])

  await send("What is on the shelf", "Supply,Holds,In it now,Cost\nTeal paint,250 mL,100 mL,8.99\n")
  await page.getByRole("button", { name: "Bring in 1 row of stock" }).click()
  await page.getByText("Brought in 1 row of stock.").waitFor()
  expect(onHand(house.studio.file, "America/Chicago")).toMatchObject([
    { supply: "Teal paint", amountLeft: 100_000 },
  ])
  await page.getByRole("button", { name: "Undo" }).click()
  await page.getByText("Undone: Brought in 1 row of stock").waitFor()
  expect(onHand(house.studio.file, "America/Chicago")).toEqual([])
}, 60_000)

test("what was brought in goes with one undo, while nothing rests on it", async () => {
  await send("Makers and sellers", "Name,Is,Lead time days\nHarbour Supply,seller,4\nReef Works,maker,\n")
  await page.getByRole("button", { name: "Bring in 2 makers and sellers" }).click()
  await page.getByRole("button", { name: "Undo" }).click()
  await page.getByText("Undone: Brought in 2 makers and sellers").waitFor()
  expect(house.studio.file.allText("SELECT name FROM maker UNION ALL SELECT name FROM seller")).toEqual([])
}, 60_000)

test("a file that is no table is refused where it was chosen", async () => {
  await page.goto(`${here.url}/setup/bring-in`)
  const on = page.locator("li.card").first()
  await on.getByRole("button", { name: "Look it over" }).click()
  await on.getByText("Choose a file first.").waitFor()
  await on.locator("input[type=file]").setInputFiles({
    name: "table.csv",
    mimeType: "text/csv",
    buffer: Buffer.from([0x50, 0x4b, 3, 4]),
  })
  await on.getByRole("button", { name: "Look it over" }).click()
  await on.getByText("Save it there as CSV").waitFor()
})
