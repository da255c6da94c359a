import { changed } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import {
  makers,
  rewriteSeller,
  type Seller,
  type SellerInput,
  sellers,
  writeMaker,
  writeSeller,
} from "../supplies/service.ts"
import { type Cells, nameKey } from "./cells.ts"
import type { Kind, Reading, Seen } from "./kind.ts"

/** "both" is understood and never written. */
const ROLES = { maker: "maker", seller: "seller", both: "both", "maker and seller": "both" } as const
const ROLES_SAID = "maker, seller, or maker and seller"

export const SUPPLIERS: Kind = {
  name: "makers-and-sellers",
  title: "Makers and sellers",
  about: "who makes what you use, and who sells it",
  one: "maker or seller",
  many: "makers and sellers",
  columns: [
    { head: "Name", needed: true, about: "at most 80 characters", example: "Harbour Supply" },
    { head: "Is", also: ["role", "kind"], needed: true, about: ROLES_SAID, example: "seller" },
    {
      head: "Lead time days",
      also: ["lead time"],
      needed: false,
      about: "a seller's days from order to door; a new seller needs it",
      example: "4",
    },
    { head: "Smallest order", needed: false, about: "what an order must come to at least", example: "25.00" },
    { head: "Shipping", needed: false, about: "what sending costs", example: "6.50" },
    { head: "Free from", needed: false, about: "from this sum on sending costs nothing", example: "80.00" },
  ],
  open,
}

function open(studio: Studio): Reading {
  const knownMakers = new Set(makers(studio).map(({ name }) => nameKey(name)))
  const knownSellers = new Map<string, Seller | null>(
    sellers(studio).map((seller) => [nameKey(seller.name), seller]),
  )
  const seen = new Set<string>()
  return {
    look([cells]) {
      if (!cells) return null
      const name = cells.needed("Name", 80)
      const role =
        cells.said("Is") === "" ? cells.wrong("Is", `write ${ROLES_SAID}.`) : cells.choice("Is", ROLES)
      const terms = termsIn(cells)
      if (name === null || role === null || cells.problems.length > 0) return null
      const key = nameKey(name)
      const parts: Part[] = []
      for (const one of role === "both" ? (["maker", "seller"] as const) : [role]) {
        if (seen.has(`${one} ${key}`)) {
          cells.wrong("Name", `“${name}” stands in the file twice as a ${one}.`)
          return null
        }
        seen.add(`${one} ${key}`)
        if (one === "maker") parts.push(lookAtMaker(studio, name, knownMakers.has(key)))
        else {
          const part = lookAtSeller(studio, cells, name, knownSellers.get(key) ?? null, terms)
          if (part === null) return null
          parts.push(part)
        }
      }
      const added = parts.flatMap(({ as, state }) => (state === "new" ? as : []))
      return {
        called: `${name}, ${added.join(" and ")}`,
        state:
          (["new", "changed", "same"] as const).find((state) => parts.some((part) => part.state === state)) ??
          "same",
        says: parts.flatMap(({ says }) => says),
        write: (now, made) => {
          for (const part of parts) part.write(now, made)
        },
      }
    },
  }
}

function termsIn(cells: Cells) {
  return {
    leadTimeDays: cells.whole("Lead time days", 0, 365),
    minimumMicro: cells.money("Smallest order"),
    shippingMicro: cells.money("Shipping"),
    freeFromMicro: cells.money("Free from"),
  }
}

/** A name as one of the two. */
interface Part extends Omit<Seen, "called"> {
  as: "maker" | "seller"
}

function lookAtMaker(studio: Studio, name: string, isThere: boolean): Part {
  if (isThere) return { as: "maker", state: "same", says: [], write: () => {} }
  const write: Seen["write"] = (_now, made) => made("maker", writeMaker(studio, { name }))
  return { as: "maker", state: "new", says: [], write }
}

/** What is left empty stays as it is. */
function lookAtSeller(
  studio: Studio,
  cells: Cells,
  name: string,
  known: Seller | null,
  terms: ReturnType<typeof termsIn>,
): Part | null {
  const as = "seller"
  const zeroIsNone = (micro: number | null) => (micro === 0 ? null : micro)
  if (known === null) {
    if (terms.leadTimeDays === null) {
      cells.wrong("Lead time days", "write how many days a new seller takes.")
      return null
    }
    const seller: SellerInput = {
      name,
      leadTimeDays: terms.leadTimeDays,
      minimumMicro: zeroIsNone(terms.minimumMicro),
      shippingMicro: terms.shippingMicro ?? 0,
      freeFromMicro: zeroIsNone(terms.freeFromMicro),
    }
    return { as, state: "new", says: [], write: (_now, made) => made("seller", writeSeller(studio, seller)) }
  }
  const wanted: Seller = {
    ...known,
    leadTimeDays: terms.leadTimeDays ?? known.leadTimeDays,
    minimumMicro: terms.minimumMicro === null ? known.minimumMicro : zeroIsNone(terms.minimumMicro),
    shippingMicro: terms.shippingMicro ?? known.shippingMicro,
    freeFromMicro: terms.freeFromMicro === null ? known.freeFromMicro : zeroIsNone(terms.freeFromMicro),
  }
  const says = [
    wanted.leadTimeDays === known.leadTimeDays
      ? ""
      : `lead time ${known.leadTimeDays} → ${wanted.leadTimeDays} days`,
    wanted.minimumMicro === known.minimumMicro ? "" : "smallest order",
    wanted.shippingMicro === known.shippingMicro ? "" : "shipping",
    wanted.freeFromMicro === known.freeFromMicro ? "" : "free from",
  ].filter(Boolean)
  if (says.length === 0) return { as, state: "same", says, write: () => {} }
  return {
    as,
    state: "changed",
    says: [`${known.name}: ${says.join(", ")}`],
    write: (now) => changed(now, "seller", known.id, () => rewriteSeller(studio, known.id, wanted)),
  }
}
