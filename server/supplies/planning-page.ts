import type { Router } from "express"
import { z } from "zod"
import { type IsoDate, parseDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { changed } from "../ledger/row-change.ts"
import { type Studio, type StudioSettings, settingsOf } from "../ledger/studio.ts"
import { anyOf, count, decimal, idempotencyKey, longText, text } from "../web/fields.ts"
import { formPage } from "../web/forms.ts"
import { changeSettings } from "./service.ts"
import { setUp } from "./set-up.ts"

const WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
const MOST_DAYS_OFF = 200

const PlanningForm = z.object({
  key: idempotencyKey,
  opens: text(5, "Work begins at"),
  workMinPerDay: count(1440, "Minutes of work a day"),
  weekdaysOff: anyOf(["1", "2", "3", "4", "5", "6", "7"]),
  daysOff: longText(4000, "Single days off"),
  turners: count(100, "Turners", 0),
  turnerPlaces: count(1000, "Cups on each turner", 0),
  shippingDays: count(90, "Days to ship", 0),
  spareDays: count(60, "Days to spare", 0),
  serviceLevel: decimal({ min: 50, max: 99.99, label: "How sure", unit: "%" }),
})

/** When somebody works, how many cups turn, and how sure the shelf must be: what plans are made from. */
export function planningPage(router: Router, studio: Studio): void {
  formPage(router, {
    path: "/setup/planning",
    view: "supplies/planning",
    show: () => {
      const settings = settingsOf(studio)
      return {
        title: "Working days and turners",
        back: { to: "/setup", label: "Set up" },
        lead: "From this Lotcup works out when cups can be ready and on which day supplies are needed.",
        ...settings,
        opens: clock(settings.opensMin),
        weekdays: WEEKDAYS.map((name, index) => ({
          name,
          value: String(index + 1),
          off: settings.weekdaysOff.includes(index + 1),
        })),
        daysOff: settings.daysOff.join("\n"),
        serviceLevel: String(settings.serviceLevelPpm / 10_000),
      }
    },
    form: PlanningForm,
    save: (input, req, res) => {
      const done = setUp(studio, { req, res }, input, (now) => {
        const settings = { ...settingsOf(studio), ...toSettings(input) }
        changed(now, "studio", 1, () => changeSettings(studio, settings))
        return { summary: "Working days and turners are kept", answer: 1 }
      })
      res.saved(`${done.summary}.`, { to: "/setup", undo: done.actionId })
    },
  })
}

function toSettings(input: z.output<typeof PlanningForm>): Partial<StudioSettings> {
  const opensMin = minutesOf(input.opens)
  if (opensMin + input.workMinPerDay > 1440) {
    throw new Refusal("That day goes on past midnight: begin earlier or work less.", {
      field: "workMinPerDay",
    })
  }
  if (input.weekdaysOff.length === WEEKDAYS.length) {
    throw new Refusal("Leave at least one weekday to work on.", { field: "weekdaysOff" })
  }
  return {
    opensMin,
    workMinPerDay: input.workMinPerDay,
    weekdaysOff: input.weekdaysOff.map(Number).sort((a, b) => a - b),
    daysOff: daysIn(input.daysOff),
    turners: input.turners,
    turnerPlaces: input.turnerPlaces,
    shippingDays: input.shippingDays,
    spareDays: input.spareDays,
    serviceLevelPpm: Math.round(input.serviceLevel * 10_000),
  }
}

function clock(minutes: number): string {
  const two = (n: number) => String(n).padStart(2, "0")
  return `${two(Math.floor(minutes / 60))}:${two(minutes % 60)}`
}

function minutesOf(typed: string): number {
  const found = /^([01]?\d|2[0-3])[:.]([0-5]\d)$/.exec(typed)
  if (!found) throw new Refusal("Write the hour work begins like 9:00.", { field: "opens" })
  return Number(found[1]) * 60 + Number(found[2])
}

/** One day a line, or several with commas between. */
function daysIn(typed: string): IsoDate[] {
  const days = typed
    .split(/[\n,;]+/)
    .map((one) => one.trim())
    .filter((one) => one !== "")
  if (days.length > MOST_DAYS_OFF) {
    throw new Refusal(`That is more than ${MOST_DAYS_OFF} days off.`, { field: "daysOff" })
  }
  const read = days.map((day) => {
    const parsed = parseDate(day.slice(0, 100), "first day")
    if (!parsed.ok) throw new Refusal(`${day}: ${parsed.message}`, { field: "daysOff" })
    return parsed.date
  })
  return [...new Set(read)].sort()
}
