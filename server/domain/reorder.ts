/** What a supply's use and its deliveries have been like, for deciding when to order it again. */
export interface Demand {
  /** base units a day, and how much that varies from day to day */
  meanPerDay: number
  sdPerDay: number
  /** days from order to door, and how much they vary */
  leadDays: number
  sdLeadDays: number
}

/** When to order again, and how it came about. Amounts in the supply's base unit, not rounded. */
export interface ReorderPoint {
  /** standard normal quantile of the service level */
  z: number
  /** used while waiting, on average */
  whileWaiting: number
  /** how much that varies: √(lead time × variance of use + use² × variance of the lead time) */
  sdWhileWaiting: number
  safety: number
  /** order when so much or less is left, what is coming included */
  point: number
}

/**
 * Amount at which to order again, so that in `serviceLevel` of the waits the shelf does not run empty:
 *
 *     point = use × lead time + z × √(lead time × s²(use) + use² × s²(lead time))
 *
 * (S. Nahmias, Production and Operations Analysis, lot size–reorder point systems; with a certain lead time it is
 * R. Russell and B. Taylor, Operations Management, reorder point with variable demand.) Use on different days is
 * taken to be independent and their sum normal.
 *
 * @param serviceLevel share of waits without running out, 0.5 up to 0.9999
 * @throws {RangeError} below zero, or a level outside
 */
export function reorderPoint(demand: Demand, serviceLevel: number): ReorderPoint {
  const { meanPerDay, sdPerDay, leadDays, sdLeadDays } = demand
  if ([meanPerDay, sdPerDay, leadDays, sdLeadDays].some((value) => !(value >= 0))) {
    throw new RangeError("use, lead time and how they vary cannot be below zero")
  }
  if (!(serviceLevel >= 0.5 && serviceLevel <= 0.9999)) {
    throw new RangeError(`no safety stock for a service level of ${serviceLevel}`)
  }
  const z = normalQuantile(serviceLevel)
  const whileWaiting = meanPerDay * leadDays
  const sdWhileWaiting = Math.sqrt(leadDays * sdPerDay ** 2 + meanPerDay ** 2 * sdLeadDays ** 2)
  const safety = z * sdWhileWaiting
  return { z, whileWaiting, sdWhileWaiting, safety, point: whileWaiting + safety }
}

/**
 * Amount to order at a time so that ordering and keeping together cost least: √(2 × order cost × use ÷ keeping)
 * (F. W. Harris 1913; any textbook of operations).
 *
 * @param perOrder cost of one order, @param use amount in a period, @param keeping cost of keeping one unit so long
 */
export function economicOrderQuantity(costs: { perOrder: number; use: number; keeping: number }): number {
  const { perOrder, use, keeping } = costs
  if (!(perOrder >= 0 && use >= 0 && keeping > 0)) throw new RangeError("no order quantity for such costs")
  return Math.sqrt((2 * perOrder * use) / keeping)
}

/** Mean and sample standard deviation; a single value has none to speak of. */
export interface Spread {
  count: number
  mean: number
  sd: number
}

/** @throws {RangeError} nothing to take a mean of */
export function spreadOf(values: readonly number[]): Spread {
  if (values.length === 0) throw new RangeError("no values, no mean")
  const mean = values.reduce((a, b) => a + b, 0) / values.length
  const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0)
  return { count: values.length, mean, sd: values.length > 1 ? Math.sqrt(squares / (values.length - 1)) : 0 }
}

/** Fewer deliveries than this say too little of how late a seller can be. */
export const FEWEST_DELIVERIES = 3
/** Until then a lead time is taken to vary by this share of itself. Common practice, no source. */
const CAUTIOUS_SHARE = 0.3

/**
 * Lead time from what a seller's deliveries took; while there are few, from what was told of it, with a cautious
 * spread.
 *
 * @param days from order to door, each delivery
 * @param toldDays the lead time set up for the supply or its seller
 */
export function leadTimeFrom(
  days: readonly number[],
  toldDays: number,
): { leadDays: number; sdLeadDays: number; from: "record" | "told" } {
  if (days.length < FEWEST_DELIVERIES) {
    return { leadDays: toldDays, sdLeadDays: toldDays * CAUTIOUS_SHARE, from: "told" }
  }
  const { mean, sd } = spreadOf(days)
  return { leadDays: mean, sdLeadDays: sd, from: "record" }
}

const DAYS_A_WEEK = 7

/**
 * Use a day from what was used in whole weeks, quiet ones included. Weeks are taken to be alike and their days
 * independent, so a day varies by the week's spread ÷ √7.
 *
 * @param weeks amount used in each of the last weeks
 */
export function usePerDay(weeks: readonly number[]): { meanPerDay: number; sdPerDay: number } {
  const { mean, sd } = spreadOf(weeks)
  return { meanPerDay: mean / DAYS_A_WEEK, sdPerDay: sd / Math.sqrt(DAYS_A_WEEK) }
}

/**
 * Quantile of the standard normal distribution, to about 1 part in 10¹⁶
 * (M. J. Wichura, Algorithm AS 241, PPND16, Applied Statistics 37, 1988; coefficients from memory, checked against
 * tables and against numerical integration).
 *
 * @param p above 0 and below 1
 */
export function normalQuantile(p: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`no quantile at ${p}`)
  const q = p - 0.5
  if (Math.abs(q) <= 0.425) {
    const r = 0.180625 - q * q
    return (q * polynomial(NEAR_TOP, r)) / polynomial(NEAR_BOTTOM, r)
  }
  const r = Math.sqrt(-Math.log(q < 0 ? p : 1 - p))
  const value =
    r <= 5
      ? polynomial(FAR_TOP, r - 1.6) / polynomial(FAR_BOTTOM, r - 1.6)
      : polynomial(TAIL_TOP, r - 5) / polynomial(TAIL_BOTTOM, r - 5)
  return q < 0 ? -value : value
}

/** Σ cᵢ xⁱ, lowest power first. */
function polynomial(coefficients: readonly number[], x: number): number {
  return coefficients.reduceRight((sum, coefficient) => sum * x + coefficient, 0)
}

const NEAR_TOP = [
  3.3871328727963665, 133.14166789178438, 1971.5909503065513, 13731.69376550946, 45921.95393154987,
  67265.7709270087, 33430.57558358813, 2509.0809287301227,
]
const NEAR_BOTTOM = [
  1, 42.31333070160091, 687.1870074920579, 5394.196021424751, 21213.794301586597, 39307.89580009271,
  28729.085735721943, 5226.495278852854,
]
const FAR_TOP = [
  1.4234371107496835, 4.630337846156546, 5.769497221460691, 3.6478483247632045, 1.2704582524523684,
  0.2417807251774506, 0.022723844989269184, 0.0007745450142783414,
]
const FAR_BOTTOM = [
  1, 2.053191626637759, 1.6763848301838038, 0.6897673349851, 0.14810397642748008, 0.015198666563616457,
  0.0005475938084995345, 1.0507500716444169e-9,
]
const TAIL_TOP = [
  6.657904643501103, 5.463784911164114, 1.7848265399172913, 0.29656057182850487, 0.026532189526576124,
  0.0012426609473880784, 2.7115555687434876e-5, 2.0103343992922881e-7,
]
const TAIL_BOTTOM = [
  1, 0.599832206555888, 0.1369298809227358, 0.014875361290850615, 0.0007868691311456133,
  1.8463183175100548e-5, 1.421511758316446e-7, 2.0442631033899397e-15,
]
