import type { Router } from "express"
import { z } from "zod"
import { parseMoney } from "../domain/money.ts"
import { parseAmount } from "../domain/units.ts"
import { changed } from "../ledger/row-change.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { idempotencyKey, oneOf, orRefuse, text } from "../web/fields.ts"
import { formPage } from "../web/forms.ts"
import { amountText, typedAmount } from "./entry.ts"
import { changeSettings, currencies, knownCurrency, type SettingsInput, timeZones } from "./service.ts"
import { setUp } from "./set-up.ts"

const SettingsForm = z.object({
  key: idempotencyKey,
  name: text(60, "Name"),
  units: oneOf(["metric", "us"], "Units"),
  currency: text(3, "Currency"),
  timeZone: text(60, "Time zone"),
  labour: text(30, "An hour of work"),
  volumeStep: typedAmount("Smallest mark of the measuring cup"),
  massStep: typedAmount("Smallest step of the scale"),
})

/** How the studio measures, works and counts. */
export function settingsPages(router: Router, studio: Studio): void {
  formPage(router, {
    path: "/setup/studio",
    view: "supplies/studio",
    show: () => {
      const settings = settingsOf(studio)
      return {
        title: "The studio",
        back: { to: "/setup", label: "Set up" },
        ...settings,
        labour: String(settings.labourMicroPerHour / 1e6),
        // steps are said in the metric units that cups and scales are marked in
        volumeStep: amountText(settings.volumeStepUl, "uL", "metric"),
        massStep: amountText(settings.massStepMg, "mg", "metric"),
        currencies: currencyChoices(),
        timeZones: withCurrent(timeZones(), settings.timeZone),
      }
    },
    form: SettingsForm,
    save: (input, req, res) => {
      const done = setUp(studio, { req, res }, input, (now) => {
        changed(now, "studio", 1, () => changeSettings(studio, toSettings(studio, input)))
        return { summary: "The studio's settings are kept", answer: 1 }
      })
      res.saved(`${done.summary}.`, { to: "/setup", undo: done.actionId })
    },
  })
}

function toSettings(studio: Studio, input: z.output<typeof SettingsForm>): SettingsInput {
  return {
    ...settingsOf(studio),
    name: input.name,
    units: input.units,
    currency: input.currency,
    timeZone: input.timeZone,
    labourMicroPerHour: orRefuse(parseMoney(input.labour, knownCurrency(input.currency)), "labour").micro,
    volumeStepUl: orRefuse(parseAmount(input.volumeStep, "uL", "mL"), "volumeStep").amount,
    massStepMg: orRefuse(parseAmount(input.massStep, "mg", "g"), "massStep").amount,
  }
}

function currencyChoices(): { value: string; label: string }[] {
  const names = new Intl.DisplayNames("en", { type: "currency" })
  return currencies().map((code) => ({ value: code, label: `${code} – ${names.of(code) ?? code}` }))
}

/** An old name of a zone stays choosable once it is set. */
function withCurrent(zones: string[], current: string): string[] {
  return zones.includes(current) ? zones : [current, ...zones]
}
