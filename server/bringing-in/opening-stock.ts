import type { IsoDate } from "../domain/dates.ts"
import { Refusal, refusalOr } from "../domain/refusal.ts"
import { formatAmount, type UnitSystem } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type OpeningInput, putOnShelf, refuseImpossible } from "../receiving/service.ts"
import { type Cells, nameKey } from "./cells.ts"
import type { Kind, Reading } from "./kind.ts"
import { idsByName, type KnownSupply, suppliesByName } from "./known.ts"

const YES_NO = { yes: "yes", no: "no", open: "yes", sealed: "no", y: "yes", n: "no" } as const

export const OPENING_STOCK: Kind = {
  name: "opening-stock",
  title: "What is on the shelf",
  about: "bottles, cans and boxes that stand there today, with what they cost",
  one: "row of stock",
  many: "rows of stock",
  columns: [
    {
      head: "Supply",
      also: ["name"],
      needed: true,
      about: "as it is called under Supplies",
      example: "Teal paint",
    },
    {
      head: "Holds",
      also: ["full", "size"],
      needed: true,
      about: "a full one, with its unit",
      example: "250 mL",
    },
    {
      head: "In it now",
      also: ["left", "amount"],
      needed: false,
      about: "with its unit; empty is full",
      example: "180 mL",
    },
    {
      head: "How many",
      also: ["count"],
      needed: false,
      about: "like this, 1 to 200; empty is 1",
      example: "1",
    },
    {
      head: "Open",
      also: ["opened"],
      needed: false,
      about: "yes or no; part-used counts as open",
      example: "yes",
    },
    { head: "Lot", also: ["lot number"], needed: false, about: "as printed; empty: not known", example: "" },
    { head: "Maker", needed: false, about: "as it is called under Makers and sellers", example: "" },
    {
      head: "Expires",
      also: ["expiry", "use by"],
      needed: false,
      about: "2027-12-31, 12/2027 or 3 Dec 2027",
      example: "2027-12-31",
    },
    {
      head: "Cost",
      also: ["price", "a full one cost"],
      needed: false,
      about: "what a full one cost",
      example: "8.99",
    },
    {
      head: "Place",
      also: ["where"],
      needed: false,
      about: "where it stands, at most 40 characters",
      example: "Shelf A",
    },
  ],
  open,
}

interface Books {
  studio: Studio
  supplies: ReadonlyMap<string, KnownSupply>
  makers: ReadonlyMap<string, number>
  /** days of labels that rows before said, by lot */
  lots: Map<string, IsoDate>
}

function open(studio: Studio): Reading {
  const books: Books = {
    studio,
    supplies: suppliesByName(studio),
    makers: idsByName(studio, "maker"),
    lots: new Map(),
  }
  const { units } = settingsOf(studio)
  return {
    look([cells]) {
      const said = cells ? stockIn(books, cells) : null
      if (!cells || said === null || cells.problems.length > 0) return null
      const { supply, stock } = said
      const why = refusalOr(() => refuseImpossible(stock))
      if (why instanceof Refusal) return cells.wrong(null, why.message)
      const called = calledOf(supply, stock, units)
      return { state: "new", called, says: [], write: (now) => void putOnShelf(studio, now, stock) }
    },
  }
}

/** "2 × Teal paint, 180 mL of 250 mL, lot T-41". */
function calledOf({ name, baseUnit }: KnownSupply, stock: OpeningInput, units: UnitSystem): string {
  const { count = 1, amount, fullAmount, lotNumber } = stock
  const say = (value: number) => formatAmount(value, baseUnit, units)
  const left = amount === fullAmount ? say(amount) : `${say(amount)} of ${say(fullAmount)}`
  const lot = lotNumber ? `, lot ${lotNumber}` : ""
  return `${count === 1 ? "" : `${count} × `}${name}, ${left}${baseUnit === "each" ? " pcs" : ""}${lot}`
}

function stockIn(books: Books, cells: Cells): { supply: KnownSupply; stock: OpeningInput } | null {
  const name = cells.needed("Supply", 80)
  const supply = name === null ? undefined : books.supplies.get(nameKey(name))
  if (name !== null && supply === undefined) {
    cells.wrong("Supply", `there is no supply called “${name}”. Bring supplies in first, or mend the name.`)
  }
  const count = cells.whole("How many", 1, 200) ?? 1
  const isOpen = cells.choice("Open", YES_NO)
  const lotNumber = cells.text("Lot", 80)
  const expiresOn = cells.day("Expires")
  const priceMicro = cells.money("Cost") ?? 0
  const place = cells.text("Place", 40)
  const makerId = makerIn(books, cells)
  if (supply === undefined) return null
  if (cells.said("Holds") === "") return cells.wrong("Holds", "it is missing.")
  const fullAmount = cells.amount("Holds", supply)
  const amount = cells.said("In it now") === "" ? fullAmount : cells.amount("In it now", supply)
  if (fullAmount === null || amount === null) return null
  refuseOtherDay(books, cells, { supplyId: supply.id, makerId, lotNumber, expiresOn })
  const stock: OpeningInput = {
    supplyId: supply.id,
    makerId,
    lotNumber,
    fullAmount,
    amount,
    // as on the page: what is part-used has been opened, whatever was said
    opened: isOpen === "yes" || (amount < fullAmount && supply.baseUnit !== "each"),
    expiresOn,
    count,
    priceMicro,
    place,
  }
  return { supply, stock }
}

function makerIn(books: Books, cells: Cells): number | null {
  const maker = cells.text("Maker", 80)
  if (maker === null) return null
  return (
    books.makers.get(nameKey(maker)) ??
    cells.wrong(
      "Maker",
      `there is no maker called “${maker}”. Bring makers and sellers in first, or mend the name.`,
    )
  )
}

/** One lot goes off on one day: in the book, and in the rows before. */
function refuseOtherDay(
  { studio, lots }: Books,
  cells: Cells,
  lot: { supplyId: number; makerId: number | null; lotNumber: string | null; expiresOn: IsoDate | null },
): void {
  if (lot.lotNumber === null || lot.expiresOn === null) return
  const key = JSON.stringify([lot.supplyId, lot.makerId, lot.lotNumber])
  const inBook = studio.file.firstText<{ expires_on: IsoDate | null }>(
    `SELECT expires_on FROM lot WHERE supply_id = ? AND coalesce(maker_id, 0) = ? AND number = ? AND expiry_basis = 'label'`,
    [lot.supplyId, lot.makerId ?? 0, lot.lotNumber],
  )
  const day = lots.get(key) ?? inBook?.expires_on ?? lot.expiresOn
  if (day !== lot.expiresOn) {
    cells.wrong(
      "Expires",
      `lot ${lot.lotNumber} goes off on ${day} by what is known. Look at the label again, or leave the day empty.`,
    )
  }
  lots.set(key, day)
}
