import { madeOf } from "../../db/made-of.ts"
import { scuffRecipe } from "../batches/service.ts"
import type { ForecastInput } from "../domain/forecast.ts"
import { NeedBook } from "../domain/need-book.ts"
import type { Measures } from "../domain/plan.ts"
import { onHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { suppliesList } from "../supplies/service.ts"
import { shopOf } from "./clock.ts"
import { expected } from "./expected.ts"
import { type DraftLine, openWork } from "./open-work.ts"
import { steadyUse } from "./record.ts"

/** Everything a forecast looks at, read once. */
export type State = ReturnType<typeof stateOf>

export function stateOf(studio: Studio, extra: readonly DraftLine[]) {
  const settings = settingsOf(studio)
  const today = todayOf(studio)
  const measures = { volumeStepUl: settings.volumeStepUl, massStepMg: settings.massStepMg }
  return {
    settings,
    today,
    measures,
    work: openWork(studio, extra),
    shelf: onHand(studio.file, settings.timeZone),
    arrivals: expected(studio, today),
    supplies: new Map(suppliesList(studio).map((supply) => [supply.id, supply])),
    book: bookFor(studio.file, [measures]),
    shop: shopOf(studio, settings, scuffRecipe(studio).minutes),
    steady: steadyUse(studio),
  }
}

/** One for all forecasts: what a design needs stays the same until it, or what can be measured, is changed. */
const bookFor = madeOf(([measures]: readonly [Measures]) => new NeedBook(measures))

export function inputOf(state: State, withExtra: boolean): ForecastInput {
  const { today, settings, shelf, arrivals, work, measures, book, shop, steady } = state
  return {
    today,
    lines: work.lines.filter((line) => withExtra || line.orderId !== null).map((line) => line.open),
    loose: work.loose,
    shelf,
    arrivals,
    shippingDays: settings.shippingDays,
    spareDays: settings.spareDays,
    shop,
    steady,
    measures,
    book,
  }
}
