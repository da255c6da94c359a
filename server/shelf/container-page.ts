import { sayDate } from "../domain/dates.ts"
import { cautionsFor, isHazard } from "../domain/hazards.ts"
import { sheetsIn } from "../domain/pieces.ts"
import { fieldUnit, formatAmount, type UnitSystem } from "../domain/units.ts"
import { historyOfContainer } from "../history/service.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import type { FormState } from "../web/forms.ts"
import { type ContainerPage, containerByCode } from "./container.ts"
import { discardWords, useByWords } from "./words.ts"

const LAST_ACTIONS = 20

/** A container as a page. @throws {Refusal} 404 when there is none with that code */
export function containerPage(studio: Studio, code: string, state: FormState | null) {
  const container = containerByCode(studio, code)
  const { units } = settingsOf(studio)
  const today = todayOf(studio)
  const amount = (value: number) => formatAmount(value, container.baseUnit, units)
  const isPieces = container.baseUnit === "each"
  return {
    title: container.supply,
    lead: leadOf(container, amount, today, units),
    back: { to: "/shelf", label: "Shelf" },
    container,
    path: `/containers/${container.code}`,
    isEmpty: container.amountLeft === 0,
    opened: container.openedOn !== null,
    // one main button: opening comes before the bench, and what is past its day is not put forward
    benchKind: container.openedOn === null || container.expired ? "secondary" : "",
    unit: isPieces ? "pcs" : fieldUnit(container.baseUnit, units),
    amountHint: isPieces ? null : "Or with another unit, like 1/2 gal or 340 g",
    countLabel: isPieces ? "How many pieces there are" : "Or how much exactly",
    writeOffKind: container.expired ? "write-off" : "",
    isPieces,
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
    },
    entries: historyOfContainer(studio, container.containerId, LAST_ACTIONS).map((entry) => ({
      ...entry,
      change: entry.amount > 0 ? `+${amount(entry.amount)}` : entry.amount < 0 ? amount(entry.amount) : "",
    })),
  }
}

/** How full a look at the bottle says it is. */
export const LEVELS = [
  { value: "full", label: "Full", share: 1 },
  { value: "3/4", label: "¾", share: 0.75 },
  { value: "1/2", label: "½", share: 0.5 },
  { value: "1/4", label: "¼", share: 0.25 },
  { value: "empty", label: "Empty", share: 0 },
] as const

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

/** What of it is whole sheets, and what never comes out. */
function partsOf(
  { amountLeft, keptBack, sheet }: ContainerPage,
  amount: (value: number) => string,
  units: UnitSystem,
): string {
  if (keptBack > 0) {
    return amountLeft <= keptBack
      ? " What is left never comes out, so it is not proposed."
      : ` The last ${amount(keptBack)} never come out.`
  }
  if (sheet === null) return ""
  const { whole, restUm } = sheetsIn(amountLeft, sheet)
  const sheets = whole === 1 ? "1 sheet" : `${whole} sheets`
  if (restUm === 0) return ` That is ${sheets}.`
  const side = (um: number) => formatAmount(um, "um", units)
  const rest = `an offcut of ${side(sheet.widthUm)} × ${side(restUm)}`
  return ` That is ${whole === 0 ? rest : `${sheets} and ${rest}`}.`
}
