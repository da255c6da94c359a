import { daysBetween, type IsoDate, plusDays } from "../domain/dates.ts"
import { forecast as compute, type ForecastInput, type LineOutlook } from "../domain/forecast.ts"
import type { Studio } from "../ledger/studio.ts"
import { ifOrdered, type Ordered } from "./expected.ts"
import { restLater } from "./rest-later.ts"
import type { AskedAnswer, ForecastAnswer } from "./service.ts"
import { inputOf, type State } from "./state.ts"

/** As if everything that is missing were ordered today. */
export interface IfOrdered {
  /** cups that can then be in time */
  able: number
  /** so many of them begun at once, the rest on that day; null: all as the forecast plans them */
  atOnce: number | null
  /** the day the last of what the line lacks is here */
  hereOn: IsoDate
  /** something else it lacks is sold by nobody */
  lacksUnsold: boolean
  /** something is taken from who brings it sooner, since what costs least comes too late */
  isSooner: boolean
  /** all of it is ordered already and only comes late */
  isOnItsWay: boolean
}

/** Packs to order, for what, and from whom. */
interface Order extends Ordered {
  supplyIds: readonly number[]
  isSooner: boolean
}

/**
 * The lines that are asked about, with what ordering today would change for each.
 *
 * Where all of a line can wait until everything is here, that is all of it. Otherwise the forecast says it once more,
 * with what would come put beside what is expected already. There the days to spare are given up: what comes late may
 * still be in time. One line alone is also tried in two parts (`restLater`). What nobody sells does not come.
 *
 * @param asked with `ordered` null
 */
export function withOrdered(
  studio: Studio,
  state: State,
  answer: ForecastAnswer,
  asked: readonly AskedAnswer[],
): AskedAnswer[] {
  const orders = ordersFor(answer)
  const told = asked.map((line) => toldOf(line, answer, orders))
  if (asked.every((line, index) => !told[index] || canWait(line, answer)))
    return asked.map((line, index) => {
      const here = told[index]
      return here ? { ...line, ordered: { able: line.cups, atOnce: null, ...here } } : line
    })
  const input = inputWith(studio, state, orders)
  const outlooks = new Map(
    compute({ ...input, spareDays: 0 }).lines.map((line) => [line.lineId, line] as const),
  )
  return asked.map((line, index) => {
    const here = told[index]
    if (!here) return line
    if (canWait(line, answer)) return { ...line, ordered: { able: line.cups, atOnce: null, ...here } }
    const { able, atOnce, readyOn } = mostOf(
      line,
      outlooks.get(line.lineId)!,
      asked.length === 1 ? here : null,
      input,
    )
    return {
      ...line,
      // then nothing has to wait until everything is here
      earliestOn: able === line.cups ? earlier(readyOn, line.earliestOn) : line.earliestOn,
      ordered: { able, atOnce, ...here },
    }
  })
}

/** What is proposed; what would come too late, from who brings it sooner. */
function ordersFor({ buys, today }: ForecastAnswer): Order[] {
  const tomorrow = plusDays(today, 1)
  return buys.map(({ supplyIds, sooner, ...buy }) => {
    const { packId, count, hereOn } = sooner ?? buy
    const isToday = daysBetween(today, hereOn) <= 0
    return { supplyIds, packId, count, hereOn: isToday ? tomorrow : hereOn, isSooner: sooner !== null }
  })
}

/** @returns null: nothing of a line is missing, or nothing of it can be bought */
function toldOf(
  line: AskedAnswer,
  { shortfalls }: ForecastAnswer,
  orders: readonly Order[],
): Omit<IfOrdered, "able" | "atOnce"> | null {
  if (line.limit !== "supplies") return null
  const lacks = shortfalls.filter((short) => short.lineIds.includes(line.lineId))
  const own = orders.filter(({ supplyIds }) => lacks.some((short) => supplyIds.includes(short.supplyId)))
  const hereOn = [...own.map((order) => order.hereOn), ...lacks.flatMap((short) => short.onItsWay?.on ?? [])]
    .sort()
    .at(-1)
  if (hereOn === undefined) return null
  return {
    hereOn,
    lacksUnsold: lacks.some((short) => short.toBuy > 0 && short.buys.length === 0),
    isSooner: own.some((order) => order.isSooner),
    isOnItsWay: lacks.every((short) => short.toBuy === 0),
  }
}

/** Begun only when everything is here, all of it is still in time. */
function canWait({ earliestOn, dueOn }: AskedAnswer, { shippingDays }: ForecastAnswer): boolean {
  return earliestOn !== null && plusDays(earliestOn, shippingDays) <= dueOn
}

/** @param here null: it is not tried in two parts, since other lines are asked about that could need the same hours */
function mostOf(
  line: AskedAnswer,
  { covered, inTime, plannedOn }: LineOutlook,
  here: Pick<IfOrdered, "hereOn" | "lacksUnsold"> | null,
  input: ForecastInput,
): Pick<IfOrdered, "able" | "atOnce"> & { readyOn: IsoDate | null } {
  const able = Math.max(line.able, Math.min(covered, inTime))
  const whole = { able, atOnce: null, readyOn: plannedOn }
  // what nobody sells would be missing in the second part too
  if (whole.able === line.cups || here === null || here.lacksUnsold) return whole
  const open = input.lines.find(({ lineId }) => lineId === line.lineId)!
  const parts = restLater(input, open, line.able, here.hereOn)
  return parts !== null && parts.able > whole.able ? { ...parts, atOnce: line.able } : whole
}

/** The same as now, with what is ordered among what is expected. */
function inputWith(studio: Studio, state: State, orders: readonly Order[]): ForecastInput {
  const { today, arrivals, supplies } = state
  return {
    ...inputOf(state, true),
    arrivals: [...arrivals, ...ifOrdered(studio, orders, supplies, today, arrivals)],
  }
}

function earlier(one: IsoDate | null, other: IsoDate | null): IsoDate | null {
  if (one === null || other === null) return one ?? other
  return one < other ? one : other
}
