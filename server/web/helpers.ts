import { randomUUID } from "node:crypto"
import Handlebars, { type HelperDelegate, type HelperOptions } from "handlebars"
import { Temporal } from "temporal-polyfill"
import { sayDate } from "../domain/dates.ts"
import { formatMoney } from "../domain/money.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { sayAmount } from "../domain/said-amounts.ts"
import { isDay } from "../domain/said-day.ts"
import type { Assets } from "./assets.ts"
import { iconSvg, isIconName } from "./icons.ts"
import type { Frame } from "./views.ts"

const BASE_UNITS = ["uL", "mg", "um", "mm2", "each"]

/**
 * What views can say. A helper's name wins over a model's field of that name: a row's own `amount` is written
 * `{{this.amount}}`, and a helper that is given nothing says so instead of printing an empty place.
 */
export function helpers(assets: Assets): Record<string, HelperDelegate> {
  return {
    /**
     * {{amount left "uL"}} → "240 mL", in the studio's units; {{amount left "mm2" of=supplyId}} → "2.5 sheets" of
     * a supply that comes in sheets, but for an offcut of it (offcut=true)
     */
    amount: (value: unknown, unit: unknown, options: HelperOptions) => {
      const amount = needNumber("amount", value)
      const { units, sheets } = frame(options).studio
      const { of, offcut = false } = options.hash as { of?: unknown; offcut?: unknown }
      const baseUnit = needBaseUnit(unit)
      const sheet = of === undefined || of === null ? null : sheets?.get(needNumber("amount of", of))
      return sayAmount(amount, { baseUnit, sheet, offcut }, units)
    },
    /** {{money micro}}; what has no price is a dash */
    money: (micro: unknown, options: HelperOptions) =>
      micro === null ? "–" : formatMoney(needNumber("money", micro), frame(options).studio.currency),
    /** {{day iso}} → "Tue 8 Dec"; a day that is not there is a dash */
    day: (iso: unknown, options: HelperOptions) =>
      iso === null ? "–" : sayDate(needText("day", iso), frame(options).studio.today),
    /** {{moment instant}} → "Tue 8 Dec, 14:05" on the studio's clock; with to="second", "Tue 8 Dec, 14:05:09" */
    moment: (instant: unknown, options: HelperOptions) => {
      if (instant === null) return "–"
      const { timeZone, today } = frame(options).studio
      const clock = Temporal.Instant.from(needText("moment", instant)).toZonedDateTimeISO(timeZone)
      const day = sayDate(clock.toPlainDate().toString(), today)
      const smallestUnit = options.hash.to === "second" ? "second" : "minute"
      return `${day}, ${clock.toPlainTime().toString({ smallestUnit })}`
    },
    /** {{number 1250.5}} → "1,250.5", below zero with the sign that amounts and money have */
    number: (value: unknown) =>
      needNumber("number", value).toLocaleString("en-US", { maximumFractionDigits: 4 }).replace("-", "−"),
    /** {{plural 3 "cup" "cups"}} → "3 cups" */
    plural: (n: unknown, one: unknown, many: unknown) => {
      const value = needNumber("plural", n)
      return `${value.toLocaleString("en-US")} ${value === 1 ? String(one) : String(many)}`
    },

    /** how much of 100: what a level shows */
    percent: (value: unknown, max: unknown) => {
      const whole = needNumber("percent", max)
      const share = whole > 0 ? (100 * needNumber("percent", value)) / whole : 0
      return Math.round(Math.min(100, Math.max(0, share)))
    },

    eq: (a: unknown, b: unknown) => a === b,
    not: (a: unknown) => !a,
    or: (...given: unknown[]) => given.slice(0, -1).some(Boolean),
    and: (...given: unknown[]) => given.slice(0, -1).every(Boolean),
    concat: (...given: unknown[]) => given.slice(0, -1).join(""),
    /** a list written in the page: options=(list "full" "half") */
    list: (...given: unknown[]) => given.slice(0, -1),
    /** one choice of a list: (choice "uL" "by volume") */
    choice: (value: unknown, label: unknown) => ({ value, label }),
    /** for a data attribute only: data-lots="{{json lots}}" */
    json: (value: unknown) => JSON.stringify(value),
    selected: (a: unknown, b: unknown) => (String(a) === String(b) ? "selected" : ""),
    checked: (is: unknown) => (is === true ? "checked" : ""),

    /** the key that makes a form sent twice done once; new each time a page is shown */
    "hidden-key": () => safe(`<input type="hidden" name="key" value="${randomUUID()}">`),
    /** tells several forms of one page apart; its fields then carry form="…" too */
    "form-name": (name: unknown) =>
      safe(`<input type="hidden" name="_form" value="${escaped(needText("form-name", name))}">`),
    /** {{row-name "uses" @index "amount"}} → uses[0][amount] */
    "row-name": (list: unknown, index: unknown, field: unknown) => `${list}[${index}][${field}]`,
    /** all a field's partial needs, from what the view says and what was typed */
    "field-state": (given: unknown, options: HelperOptions) => fieldState(given, frame(options)),
    icon: (name: unknown) => {
      if (!isIconName(name)) throw new Error(`There is no icon ${String(name)}.`)
      return safe(iconSvg(name))
    },
    asset: (name: unknown) => assets.url(needText("asset", name)),
  }
}

interface GivenField {
  name?: unknown
  label?: unknown
  value?: unknown
  form?: unknown
  checked?: unknown
  options?: unknown
  optional?: unknown
  [attribute: string]: unknown
}

/**
 * A field as its partial prints it: what the view says, overridden by what was typed into the same form.
 */
function fieldState(given: unknown, { form: state, studio }: Frame) {
  const field = given as GivenField
  const name = needText("a field", field.name)
  const form = field.form === undefined ? "" : String(field.form)
  const again = state !== null && state.form === form ? state : null
  const typed = again?.values[name]
  const value = field.value === undefined || field.value === null ? "" : String(field.value)
  const id = `f-${form}-${name}`.replace(/[^\w]+/g, "-").replace(/-+$/, "")
  const error = again?.problems.find((problem) => problem.field === name)?.sentence ?? null
  const hint = field.hint === undefined || field.hint === null ? null : String(field.hint)
  const shown = typed === undefined ? value : (typed[0] ?? "")
  const described = [hint === null ? "" : `${id}-hint`, error === null ? "" : `${id}-error`].filter(Boolean)
  return {
    id,
    name,
    label: needText(`the field ${name}`, field.label),
    hint,
    error,
    described: described.join(" "),
    value: shown,
    /** which day it is, where it is one */
    daySaid: isDay(shown) ? sayDate(shown, studio.today) : "",
    /** what a tick sends, whatever was typed */
    sends: value === "" ? "on" : value,
    checked: again === null ? field.checked === true : (typed ?? []).includes(value === "" ? "on" : value),
    required: field.optional !== true,
    options: choices(field.options).map((choice, index) => ({
      ...choice,
      id: `${id}-${index}`,
      chosen: choice.value === shown,
    })),
    unit: field.unit ?? null,
    none: field.none ?? "–",
    type: field.type ?? "text",
    inputmode: field.inputmode ?? null,
    maxlength: field.maxlength ?? null,
    autocomplete: field.autocomplete ?? "off",
    autofocus: field.autofocus === true,
    min: field.min ?? null,
    max: field.max ?? null,
    rows: field.rows ?? 3,
    list: field.list ?? null,
    listId: `${id}-list`,
  }
}

/** Choices as words, as `{ value, label }`, or as rows with `id` and `name`. */
function choices(given: unknown): { value: string; label: string }[] {
  if (!Array.isArray(given)) return []
  return given.map((one: unknown) => {
    if (typeof one !== "object" || one === null) return { value: String(one), label: String(one) }
    const row = one as { value?: unknown; label?: unknown; id?: unknown; name?: unknown }
    return { value: String(row.value ?? row.id ?? ""), label: String(row.label ?? row.name ?? "") }
  })
}

function frame(options: HelperOptions): Frame {
  return options.data as Frame
}

function safe(html: string): Handlebars.SafeString {
  return new Handlebars.SafeString(html)
}

function escaped(text: string): string {
  return Handlebars.escapeExpression(text)
}

function needNumber(helper: string, value: unknown): number {
  if (typeof value === "number") return value
  throw new Error(`{{${helper}}} needs a number. A field of that name is written {{this.${helper}}}.`)
}

function needText(helper: string, value: unknown): string {
  if (typeof value === "string") return value
  throw new Error(`{{${helper}}} needs a text and got ${typeof value}.`)
}

function needBaseUnit(value: unknown): BaseUnit {
  if (typeof value === "string" && BASE_UNITS.includes(value)) return value as BaseUnit
  throw new Error(`{{amount}} needs a base unit and got ${String(value)}.`)
}
