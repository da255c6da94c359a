import type { Shelved } from "../../server/domain/allocation.ts"
import { type ForecastInput, forecast, type OpenLine } from "../../server/domain/forecast.ts"
import type { Plan } from "../../server/domain/plan.ts"
import type { Shop } from "../../server/domain/schedule.ts"
import { fine, layer, plan, resinUse, supply, supplyUse } from "./plan-fixtures.ts"

export const TODAY = "2026-12-01"
export const A = 1
export const B = 2
export const LID = 3
export const BLANK = 9

/** Somebody works day and night, and there are turners for all: days are those that the plan itself takes. */
export const SHOP: Shop = {
  hours: { opensMin: 0, closesMin: 1435, weekdaysOff: [], daysOff: [] },
  today: TODAY,
  nowMin: 0,
  turnerPlaces: 1000,
  scuffMin: 0,
}

let containers = 0

export const bottle = (supplyId: number, amountLeft: number, over: Partial<Shelved> = {}): Shelved => ({
  containerId: ++containers,
  supplyId,
  amountLeft,
  openedOn: null,
  useBy: null,
  held: false,
  onBench: false,
  kitUnit: null,
  ...over,
})

export const lid = (amount = 1) => supplyUse({ supply: supply(LID, { baseUnit: "each" }), amount })

/** One layer that takes a lid; it is ready at once. */
export const lidOnly = (amount = 1): Plan =>
  plan([layer(1, [lid(amount)], { handsOnMin: 0, turnerMin: 0, recoatEarliestMin: 0 })], { fullCureMin: 0 })

/** Two resin coats, a day from one to the next; two days until it may be used. */
export const twoCoats = (): Plan =>
  plan(
    [
      layer(1, [resinUse()], { handsOnMin: 0, turnerMin: 480, recoatEarliestMin: 1440 }),
      layer(2, [resinUse(), lid()], { handsOnMin: 0, turnerMin: 480, recoatEarliestMin: 0 }),
    ],
    { fullCureMin: 2880 },
  )

export const line = (lineId: number, dueOn: string, cups: number, of: Plan = lidOnly()): OpenLine => ({
  lineId,
  dueOn,
  work: [{ plan: of, cups: [{ layersDone: 0, count: cups }] }],
})

export const plenty = () => [A, B, LID, BLANK].map((id) => bottle(id, 100_000_000))

export const ask = (over: Partial<ForecastInput>) =>
  forecast({
    today: TODAY,
    lines: [],
    loose: [],
    shelf: [],
    arrivals: [],
    shippingDays: 0,
    shop: SHOP,
    measures: fine,
    ...over,
  })
