import { isDeepStrictEqual } from "node:util"
import { changed } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import {
  checkCode,
  keptCode,
  type PackInfo,
  type PackInput,
  packById,
  rewritePack,
  writePack,
} from "../supplies/service.ts"
import { type Cells, nameKey } from "./cells.ts"
import type { Kind, Reading, Seen } from "./kind.ts"
import { idsByName, type KnownSupply, suppliesByName } from "./known.ts"

const MOST_ROWS = 50

export const PACKS: Kind = {
  name: "packs",
  title: "Packs with their codes",
  about: "how supplies are sold, what is scanned, and for how much",
  one: "pack",
  many: "packs",
  together: "Pack",
  columns: [
    {
      head: "Pack",
      also: ["name", "pack name"],
      needed: true,
      about: "rows of one pack follow one another: a kit has one for each part",
      example: "Teal paint 250 mL",
    },
    { head: "Maker", needed: false, about: "as it is called under Makers and sellers", example: "" },
    {
      head: "Code",
      also: ["barcode", "ean", "upc", "gtin"],
      needed: false,
      about: "as printed",
      example: "9520000000011",
    },
    {
      head: "Supply",
      also: ["contains"],
      needed: true,
      about: "as it is called under Supplies",
      example: "Teal paint",
    },
    {
      head: "Holds",
      also: ["amount"],
      needed: true,
      about: "in one container, with its unit",
      example: "250 mL",
    },
    { head: "Containers", also: ["how many"], needed: false, about: "in one pack; empty is 1", example: "1" },
    { head: "Seller", needed: false, about: "as it is called under Makers and sellers", example: "" },
    { head: "Price", needed: false, about: "of one pack at that seller", example: "" },
  ],
  open,
}

interface Books {
  studio: Studio
  packs: ReadonlyMap<string, number>
  supplies: ReadonlyMap<string, KnownSupply>
  makers: ReadonlyMap<string, number>
  sellers: ReadonlyMap<string, number>
}

function open(studio: Studio): Reading {
  const books: Books = {
    studio,
    packs: idsByName(studio, "pack"),
    supplies: suppliesByName(studio),
    makers: idsByName(studio, "maker"),
    sellers: idsByName(studio, "seller"),
  }
  const seen = new Set<string>()
  return {
    look(rows) {
      const [first] = rows
      if (!first) return null
      const name = first.needed("Pack", 120)
      if (rows.length > MOST_ROWS) return first.wrong(null, `a pack has at most ${MOST_ROWS} rows.`)
      if (name !== null && seen.has(nameKey(name))) {
        first.wrong("Pack", `“${name}” stands further up too: rows of one pack must follow one another.`)
      }
      if (name !== null) seen.add(nameKey(name))
      const id = name === null ? undefined : books.packs.get(nameKey(name))
      const before = id === undefined ? null : packById(studio, id)
      const said = rows.map((cells) => rowIn(books, cells))
      const makerIds = new Set(said.flatMap(({ makerId }) => makerId ?? []))
      if (makerIds.size > 1) first.wrong("Maker", "the rows of one pack name several makers.")
      if (name === null || rows.some(({ problems }) => problems.length > 0)) return null
      const wanted = packFrom(name, said, before, [...makerIds][0])
      const stale = before && breakOvertaken(before, wanted)
      if (stale) return first.wrong("Price", stale)
      const called = wanted.name
      if (before === null) {
        const write: Seen["write"] = (_now, made) => made("pack", writePack(studio, wanted))
        return { state: "new", called, says: [], write }
      }
      const says = differences(before, wanted)
      if (says.length === 0) return { state: "same", called, says, write: () => {} }
      return {
        state: "changed",
        called,
        says: [`${before.name}: ${says.join(", ")}`],
        write: (now) => changed(now, "pack", before.id, () => rewritePack(studio, before.id, wanted)),
      }
    },
  }
}

interface Said {
  makerId: number | null
  code: string | null
  content: PackInput["contents"][number] | null
  offer: { sellerId: number; priceMicro: number } | null
}

function rowIn(books: Books, cells: Cells): Said {
  const makerId = idOf(cells, "Maker", books.makers)
  const sellerId = idOf(cells, "Seller", books.sellers)
  const priceMicro = cells.money("Price")
  if (cells.said("Seller") === "" && cells.said("Price") !== "")
    cells.wrong("Seller", "say who asks that price.")
  if (sellerId !== null && cells.said("Price") === "")
    cells.wrong("Price", "write what that seller asks, or 0.")
  return {
    makerId,
    code: codeIn(cells),
    content: contentIn(books, cells),
    offer: sellerId === null || priceMicro === null ? null : { sellerId, priceMicro },
  }
}

function contentIn(books: Books, cells: Cells): Said["content"] {
  const name = cells.needed("Supply", 80)
  const supply = name === null ? undefined : books.supplies.get(nameKey(name))
  if (name !== null && supply === undefined) {
    cells.wrong("Supply", `there is no supply called “${name}”. Bring supplies in first, or mend the name.`)
  }
  const containerCount = cells.whole("Containers", 1, 1000) ?? 1
  if (supply === undefined) return null
  if (cells.said("Holds") === "") return cells.wrong("Holds", "it is missing.")
  const amount = cells.amount("Holds", supply)
  return amount === null ? null : { supplyId: supply.id, amount, containerCount }
}

function codeIn(cells: Cells): string | null {
  const code = cells.text("Code", 200)
  if (code === null) return null
  const checked = checkCode(code)
  return checked.ok ? checked.code : cells.wrong("Code", checked.message)
}

function idOf(cells: Cells, head: string, known: ReadonlyMap<string, number>): number | null {
  const name = cells.text(head, 80)
  if (name === null) return null
  const found = known.get(nameKey(name))
  if (found !== undefined) return found
  return cells.wrong(
    head,
    `there is no ${head.toLowerCase()} called “${name}”. Bring makers and sellers in first, or mend the name.`,
  )
}

/** Codes and prices come to those that are there; contents are those of the file. */
function packFrom(
  name: string,
  said: readonly Said[],
  before: PackInfo | null,
  makerId: number | undefined,
): PackInput {
  const offers = new Map(
    (before?.offers ?? []).map(({ sellerId, priceMicro, breaks }) => [
      sellerId,
      { sellerId, priceMicro, breaks },
    ]),
  )
  for (const { offer } of said) {
    if (offer) offers.set(offer.sellerId, { ...offer, breaks: offers.get(offer.sellerId)?.breaks ?? [] })
  }
  return {
    name: before?.name ?? name,
    makerId: makerId ?? before?.makerId ?? null,
    codes: [
      ...new Set([
        ...(before?.codes ?? []),
        ...said.flatMap(({ code }) => (code === null ? [] : keptCode(code))),
      ]),
    ],
    contents: said.flatMap(({ content }) => content ?? []),
    offers: [...offers.values()],
  }
}

/** A price for several packs that would no longer be the lower one. */
function breakOvertaken(before: PackInfo, wanted: PackInput): string | null {
  const overtaken = wanted.offers.some(({ priceMicro, breaks }) =>
    breaks?.some((one) => one.priceMicro >= priceMicro),
  )
  return overtaken
    ? `${before.name} has a price for several packs that would not be lower any more: change it under Set up.`
    : null
}

function differences(before: PackInfo, wanted: PackInput): string[] {
  const contents = before.contents.map(({ supplyId, amount, containerCount }) => ({
    supplyId,
    amount,
    containerCount,
  }))
  const offers = before.offers.map(({ sellerId, priceMicro }) => [sellerId, priceMicro])
  const more = wanted.codes.length - before.codes.length
  return [
    before.makerId === wanted.makerId ? "" : "maker",
    more === 0 ? "" : `${more} more ${more === 1 ? "code" : "codes"}`,
    isDeepStrictEqual(contents, wanted.contents) ? "" : "what is inside",
    isDeepStrictEqual(
      offers,
      wanted.offers.map(({ sellerId, priceMicro }) => [sellerId, priceMicro]),
    )
      ? ""
      : "price",
  ].filter(Boolean)
}
