import { sayDate } from "../domain/dates.ts"
import { cautionsFor, isHazard } from "../domain/hazards.ts"
import { heightNowUm } from "../domain/offcuts.ts"
import { sheetsIn } from "../domain/pieces.ts"
import { saidAmounts } from "../domain/said-amounts.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { fieldAmount, fieldUnit, formatAmount, type UnitSystem } from "../domain/units.ts"
import { weightMg } from "../domain/weighing.ts"
import { historyOfContainer } from "../history/service.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { photosOf } from "../receiving/service.ts"
import type { FormState } from "../web/forms.ts"
import { type ContainerPage, containerByCode, lastFilledFrom } from "./container.ts"
import { LEVELS } from "./levels.ts"
import { offcutIn, saySize } from "./offcuts.ts"
import { pairWords } from "./pairs.ts"
import { likelyPlaces, placesOf } from "./places.ts"
import { reasonsFor } from "./reasons.ts"
import { vesselOf } from "./vessel.ts"
import { discardWords, useByWords } from "./words.ts"

const LAST_ACTIONS = 20
const LIKELY_PLACES = 4
const FILL_UPS = 1

/** A container as a page. @throws {Refusal} 404 when there is none with that code */
export function containerPage(studio: Studio, code: string, state: FormState | null) {
  const container = containerByCode(studio, code)
  const { units } = settingsOf(studio)
  const today = todayOf(studio)
  const said = saidAmounts(container, units)
  const amount = said.say
  const isWhole = said.asks !== null
  return {
    title: container.supply,
    lead: leadOf(container, amount, today, units),
    back: { to: "/shelf", label: "Shelf" },
    container,
    path: `/containers/${container.code}`,
    isEmpty: container.amountLeft === 0,
    offcut: offcutOffered(studio, container),
    isSheets: container.sheet !== null,
    opened: container.openedOn !== null,
    // one main button: opening comes before the bench, and what is past its day is not put forward
    benchKind: container.openedOn === null || container.expired ? "secondary" : "",
    unit: said.unit,
    amountHint: said.hint,
    countLabel: said.asks ?? "Or how much exactly",
    reasons: reasonsFor(vesselOf(studio, container.containerId)),
    reason: container.expired ? "Gone off" : "",
    isWhole,
    over: overWords(container),
    area: formatAmount(container.amountLeft, container.baseUnit, units),
    // one tap each: to a likely place, half of it into a new bottle, from the bottle that goes off first
    likelyPlaces: likelyPlaces(studio, container, LIKELY_PLACES),
    places: placesOf(studio).map((one) => one.place),
    placeName: encodeURIComponent(container.place ?? ""),
    half: halfOf(container, units),
    fillUps: fillUpsOf(studio, container, amount, units, today),
    pairs: pairWords(studio, container.supplyId),
    photos: photosOf(studio, [container.lotId, ...container.pouredIn.map((lot) => lot.lotId)]),
    scaleUnit: fieldUnit("mg", units),
    isWeighed: weightMg(container.fullAmount, container.baseUnit, container.densityMgPerMl) !== null,
    isFull: container.amountLeft === container.fullAmount,
    emptyWeight: container.emptyMg === null ? null : formatAmount(container.emptyMg, "mg", units),
    full: amount(container.fullAmount),
    left: amount(container.amountLeft),
    useByWhy: useByWords(container, today),
    cautions: container.hazards.length === 0 ? [] : cautionsFor(container.hazards.filter(isHazard)),
    discard: discardWords(container),
    levels: LEVELS.map(({ value, label, share }) => ({
      value,
      label,
      is: amount(Math.round(container.fullAmount * share)),
    })),
    others: container.others.map((one) => ({
      value: one.code,
      label: [
        one.code,
        amount(one.amountLeft),
        one.lotNumber === null ? "no lot number" : `lot ${one.lotNumber}`,
        one.useBy === null ? "" : `${one.useBy < today ? "expired" : "use by"} ${sayDate(one.useBy, today)}`,
      ]
        .filter(Boolean)
        .join(" · "),
    })),
    open: {
      count: state?.form === "count",
      topUp: state?.form === "top-up",
      decant: state?.form === "decant",
      writeOff: state?.form === "write-off",
      earlier: state?.form === "open",
      move: state?.form === "move",
      weigh: state?.form === "weigh",
    },
    entries: historyOfContainer(studio, container.containerId, LAST_ACTIONS).map((entry) => ({
      ...entry,
      change: entry.amount > 0 ? `+${amount(entry.amount)}` : entry.amount < 0 ? amount(entry.amount) : "",
    })),
  }
}

/** What a part of it going into another is called: liquids, glitter and powders are poured, pieces put. */
function overWords({ goesOver, vessel, supply }: ContainerPage) {
  switch (goesOver) {
    case "poured":
      return {
        fill: "Top up from another",
        from: "Poured from",
        button: "Top up",
        none: `There is no other container of ${supply} to pour from.`,
        part: `Decant into a new ${vessel.one}`,
        partButton: "Decant",
        hint: `The new ${vessel.one} gets a code of its own and keeps lot and use-by day. Label it with what is in it and its hazards.`,
      }
    case "put":
      return {
        fill: "Put together with another",
        from: "Taken from",
        button: "Put together",
        none: `There is no other container of ${supply} to take from.`,
        part: `Split off into a new ${vessel.one}`,
        partButton: "Split",
        hint: `The new ${vessel.one} gets a code of its own and keeps lot and use-by day. Write on it what is in it.`,
      }
    case null:
      return null
  }
}

/** Half of what is in it, as it is typed and as it is said; null where it cannot be halved. */
function halfOf(container: ContainerPage, units: UnitSystem): { typed: string; says: string } | null {
  const half = Math.floor(container.amountLeft / 2)
  if (half === 0 || container.baseUnit === "mm2" || container.baseUnit === "um") return null
  return { typed: typedAmount(half, container, units), says: formatAmount(half, container.baseUnit, units) }
}

/**
 * Bottles it can be filled up from, each with as much of it as goes in. Not one that was itself last filled from this
 * one: that would be pouring straight back.
 */
function fillUpsOf(
  studio: Studio,
  container: ContainerPage,
  amount: (value: number) => string,
  units: UnitSystem,
  today: string,
) {
  const room = container.fullAmount - container.amountLeft
  if (room <= 0 || container.goesOver !== "poured" || container.held) return []
  const filledFromHere = lastFilledFrom(studio, container.containerId)
  const usable = container.others.filter(
    (one) => isUsableOn(one.useBy, today) && !filledFromHere.has(one.containerId),
  )
  return usable.slice(0, FILL_UPS).map((one) => {
    const goesIn = Math.min(room, one.amountLeft)
    return {
      from: one.code,
      typed: typedAmount(goesIn, container, units),
      says: `${amount(goesIn)} from ${one.code}${goesIn === one.amountLeft ? ", the last of it" : ""}`,
    }
  })
}

/** With its unit, so that it reads back as just that amount. */
function typedAmount(value: number, { baseUnit }: ContainerPage, units: UnitSystem): string {
  const unit = fieldUnit(baseUnit, units)
  return `${fieldAmount(value, unit)} ${unit}`
}

function leadOf(
  container: ContainerPage,
  amount: (value: number) => string,
  today: string,
  units: UnitSystem,
): string {
  if (container.amountLeft === 0) return "Empty."
  const left =
    container.amountLeft === container.fullAmount
      ? `Full: ${amount(container.fullAmount)}.`
      : `${amount(container.amountLeft)} left of ${amount(container.fullAmount)}.`
  const day = container.useBy === null ? null : sayDate(container.useBy, today)
  const until = day === null ? "" : container.expired ? ` It went off on ${day}.` : ` Use it by ${day}.`
  const held = container.held ? " It is held back, so it is never proposed." : ""
  return left + partsOf(container, amount, units) + until + held
}

/** The offcut in a pack that could stand by itself, in words; null: none. */
function offcutOffered(
  studio: Studio,
  { code, held }: ContainerPage,
): { size: string; designs: string } | null {
  const offcut = held ? null : offcutIn(studio, code)
  return offcut && { size: saySize(studio, offcut), designs: offcut.designs.join(", ") }
}

/** What of it is whole sheets or an offcut, and what never comes out. */
function partsOf(
  { amountLeft, keptBack, sheet, offcut, containerId, supplyId }: ContainerPage,
  amount: (value: number) => string,
  units: UnitSystem,
): string {
  if (keptBack > 0) {
    return amountLeft <= keptBack
      ? " What is left never comes out, so it is not proposed."
      : ` The last ${amount(keptBack)} never come out.`
  }
  const side = (um: number) => formatAmount(um, "um", units)
  if (offcut !== null) {
    const heightUm = heightNowUm({ ...offcut, amountLeft, containerId, supplyId })
    return ` It is an offcut of ${side(offcut.widthUm)} × ${side(heightUm)}.`
  }
  if (sheet === null) return ""
  const { whole, restUm } = sheetsIn(amountLeft, sheet)
  if (restUm === 0) return ""
  const rest = `an offcut of ${side(sheet.widthUm)} × ${side(restUm)}`
  return ` That is ${whole === 0 ? rest : `${whole === 1 ? "1 sheet" : `${whole} sheets`} and ${rest}`}.`
}
