import { z } from "zod"
import { heightNowUm } from "../domain/offcuts.ts"
import type { SheetSize } from "../domain/plan.ts"
import { saidAmounts } from "../domain/said-amounts.ts"
import { parseStudioCode, studioCodeProblem } from "../domain/studio-code.ts"
import { formatAmount, type UnitSystem } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { optionalText } from "../web/fields.ts"
import {
  type Shelf,
  type ShelfContainer,
  type ShelfFilter,
  type ShelfLot,
  type ShelfShow,
  shelf,
} from "./on-shelf.ts"
import { counted, KINDS } from "./words.ts"

const SHOWS = ["all", "soon", "later", "expired", "low", "held", "open", "bench"] as const

/** What stands behind the "?" of the shelf's address. What is not understood there counts as not said. */
export const ShelfQuery = z.object({
  search: optionalText(100, "Search"),
  kind: z
    .enum(KINDS.map((one) => one.value))
    .nullable()
    .catch(null),
  show: z.enum(SHOWS).catch("all"),
  /** the supply whose bottles lie open, after something was done to one of them */
  unfold: z.coerce.number().int().catch(0),
})

/** So many containers can be looked over without folding them away. */
const FEW_CONTAINERS = 8

const SHOW_LABEL: Record<ShelfShow, string> = {
  all: "Everything",
  expired: "Expired",
  soon: "Within 30 days",
  later: "Within 60 days",
  low: "Below minimum",
  open: "Opened",
  bench: "On the bench",
  held: "Held",
}

/** The shelf as a page: the answer in words, what to look at first, then what was asked for. */
export function shelfPage(studio: Studio, asked: z.output<typeof ShelfQuery>) {
  const found = shelf(studio, asked)
  const address = (show: ShelfShow) => addressOf({ ...asked, show, unfold: 0 })
  const isWhole = asked.show === "all" && asked.kind === null && asked.search === ""
  return {
    title: "Shelf",
    lead: isWhole ? leadOf(found) : answerOf(found, asked),
    isEmpty: found.count === 0 && found.low.length === 0,
    isWhole,
    search: asked.search,
    kind: asked.kind ?? "",
    show: asked.show,
    kinds: [{ value: "", label: "Every kind" }, ...KINDS],
    first: isWhole ? firstLook(found) : [],
    shows: (Object.keys(SHOW_LABEL) as ShelfShow[]).map((show) => ({
      label: SHOW_LABEL[show],
      to: address(show),
      current: show === asked.show,
    })),
    here: address(asked.show),
    nothing: found.supplies.length > 0 ? null : nothingIn(asked.search),
    supplies: suppliesShown(studio, found, asked),
    throwOut: asked.show === "expired" ? throwOutOffered(found, asked) : null,
  }
}

/** To look through what is past its day and throw it out together; what is held waits for something else first. */
function throwOutOffered(found: Shelf, asked: z.output<typeof ShelfQuery>) {
  const free = found.supplies.flatMap(({ lots }) => inLots(lots)).filter(({ held }) => !held).length
  if (free === 0) return null
  return {
    label: free === 1 ? "Throw this out" : `Throw out all ${free.toLocaleString("en-US")} of these`,
    to: addressOf({ ...asked, unfold: 0 }).replace("/shelf", "/shelf/throw-out"),
  }
}

/** Each supply with its totals, its bottles folded away unless few were asked for; what is used up but for a rest last. */
function suppliesShown(studio: Studio, found: Shelf, asked: z.output<typeof ShelfQuery>) {
  const isAsked = asked.search !== "" || asked.kind !== null || asked.show !== "all"
  const shown = found.supplies.reduce((n, supply) => n + inLots(supply.lots).length, 0)
  const { units } = settingsOf(studio)
  const isFew = isAsked && shown <= FEW_CONTAINERS
  return found.supplies
    .map((supply) => {
      const containers = inLots(supply.lots)
      const { say } = saidAmounts(supply, units)
      const spent = containers
        .filter((one) => one.spent)
        .map((one) => ({ ...one, leftSaid: leftOf(one, supply.sheet, units) }))
      const lots = supply.lots
        .map((lot) => ({ ...lot, containers: lot.containers.filter((one) => !one.spent) }))
        .filter((lot) => lot.containers.length > 0)
      return {
        ...supply,
        amountSaid: `${say(supply.amount)}${supply.baseUnit === "each" ? " pcs" : ""}`,
        usableSaid: say(supply.usable),
        minimumSaid: supply.minimum > 0 ? say(supply.minimum) : "",
        differs: supply.usable !== supply.amount,
        kindLabel: KINDS.find((kind) => kind.value === supply.kind)?.label ?? supply.kind,
        says: containersSaid(containers.length, supply.count),
        expired: containers.filter((one) => one.expired).length,
        soon: containers.filter((one) => one.goesOff !== null).length,
        isOpen: isFew || supply.supplyId === asked.unfold,
        here: `${addressOf({ ...asked, unfold: supply.supplyId })}#supply-${supply.supplyId}`,
        hasContainers: containers.length > 0,
        isSpent: containers.length > 0 && lots.length === 0,
        lots: lots.map((lot) => ({
          ...lot,
          containers: lot.containers.map((one) => shownOnShelf(one, supply.sheet, units)),
        })),
        spent,
      }
    })
    .sort((a, b) => Number(a.isSpent) - Number(b.isSpent))
}

/** Of a part of them, of how many: the amounts beside it are of all. */
function containersSaid(shown: number, count: number): string {
  if (shown === 0) return "nothing is left"
  return `${shown < count ? `${shown} of ` : ""}${counted(count, "container", "containers")}`
}

function inLots(lots: readonly ShelfLot[]): ShelfContainer[] {
  return lots.flatMap((lot) => lot.containers)
}

function shownOnShelf(one: ShelfContainer, sheet: SheetSize | null, units: UnitSystem) {
  return {
    ...one,
    leftSaid: leftOf(one, sheet, units),
    fullSaid: one.isOffcut ? "" : saidAmounts({ baseUnit: one.baseUnit, sheet }, units).say(one.fullAmount),
    opened: one.openedOn !== null,
    canOpen: one.openedOn === null && one.baseUnit !== "each",
    soon: one.goesOff !== null,
  }
}

/** How much is in it; of an offcut how large it is. */
export function leftOf(one: ShelfContainer, sheet: SheetSize | null, units: UnitSystem): string {
  const { widthUm, heightUm } = one
  if (widthUm === null || heightUm === null)
    return saidAmounts({ baseUnit: one.baseUnit, sheet }, units).say(one.amountLeft)
  const side = (um: number) => formatAmount(um, "um", units)
  return `offcut, ${side(widthUm)} × ${side(heightNowUm({ ...one, widthUm, heightUm }))}`
}

/** Why a search may have found nothing: a code with a slip in it, or one of something that is not on the shelf. */
function nothingIn(search: string): { sentence: string; lookUp: string | null } {
  const lookUp = `/go?${new URLSearchParams({ code: search })}`
  const own = parseStudioCode(search)
  if (own !== null)
    return { sentence: `${own.code} is the code of a ${own.kind}; it is not on the shelf.`, lookUp }
  const problem = studioCodeProblem(search)
  return {
    sentence: problem ?? "Nothing like that is on the shelf.",
    lookUp: problem !== null || search === "" ? null : lookUp,
  }
}

function leadOf(found: Shelf): string {
  if (found.count === 0) return "Nothing is on the shelf yet."
  const supplies = new Set(found.supplies.filter((one) => one.lots.length > 0).map((one) => one.supplyId))
    .size
  const said = [
    `${counted(found.count, "container", "containers")} of ${counted(supplies, "supply", "supplies")}.`,
    found.expired.length + found.soon.length + found.later.length === 0
      ? "Nothing has expired, and nothing goes off within 60 days."
      : `${counted(found.expired.length, "has expired", "have expired")}, ${counted(found.soon.length, "goes", "go")} off within 30 days, ${found.soon.length + found.later.length} within 60.`,
    found.low.length === 0
      ? "Nothing is below its minimum."
      : `${counted(found.low.length, "supply is", "supplies are")} below the minimum.`,
  ]
  return said.join(" ")
}

function answerOf(found: Shelf, asked: ShelfFilter): string {
  const containers = found.supplies.reduce((n, supply) => n + inLots(supply.lots).length, 0)
  const what: Record<ShelfShow, string> = {
    all: "",
    expired: " past their use-by day",
    soon: " going off within 30 days",
    later: " going off within 60 days",
    low: " of supplies below their minimum",
    open: " opened",
    bench: " on the bench",
    held: " held back",
  }
  const kind = KINDS.find((one) => one.value === asked.kind)?.label
  const search = asked.search ? ` with “${asked.search}”` : ""
  return `${counted(containers, "container", "containers")}${what[asked.show ?? "all"]}${search}${kind ? `, kind ${kind.toLowerCase()}` : ""}.`
}

/** What wants looking at, each with the names it is about. */
function firstLook(found: Shelf) {
  const names = (supplies: readonly { supply: string }[]) => {
    const all = [...new Set(supplies.map((one) => one.supply))]
    return all.length > 3 ? `${all.slice(0, 3).join(", ")} and ${all.length - 3} more` : all.join(", ")
  }
  return [
    {
      say: `${found.expired.length} expired`,
      names: names(found.expired),
      to: "/shelf?show=expired",
      state: "expired",
    },
    {
      say: `${found.soon.length} within 30 days`,
      names: names(found.soon),
      to: "/shelf?show=soon",
      state: "soon",
    },
    {
      say: `${found.soon.length + found.later.length} within 60 days`,
      names: names([...found.soon, ...found.later]),
      to: "/shelf?show=later",
      state: "later",
    },
    {
      say: `${found.low.length} below minimum`,
      names: names(found.low),
      to: "/shelf?show=low",
      state: "low",
    },
    { say: `${found.held} held`, names: "", to: "/shelf?show=held", state: "held" },
  ].filter((one) => !one.say.startsWith("0 "))
}

function addressOf(asked: z.output<typeof ShelfQuery>): string {
  const query = new URLSearchParams()
  if (asked.search !== "") query.set("search", asked.search)
  if (asked.kind !== null) query.set("kind", asked.kind)
  if (asked.show !== "all") query.set("show", asked.show)
  if (asked.unfold > 0) query.set("unfold", String(asked.unfold))
  return query.size === 0 ? "/shelf" : `/shelf?${query}`
}
