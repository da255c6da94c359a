import { Refusal } from "./refusal.ts"
import { studentT } from "./student-t.ts"

/**
 * One occasion: what a coat was to take, and what it took by measure. Of mixed resin, both without what stays in
 * the mixing cup, which does not grow with the coat.
 */
export interface Sample {
  planned: number
  actual: number
}

/** What the bench says of a plan's amounts, for one kind of layer and one supply. */
export interface Bias {
  /** occasions measured */
  count: number
  /** actual ÷ planned, on average; null when nothing was measured */
  ratio: number | null
  /** sample standard deviation of actual ÷ planned from one occasion to the next; null below two */
  spread: number | null
  /** holds the true ratio in 95 of 100 such cases; null below two */
  interval: { low: number; high: number } | null
  verdict: "more" | "less" | "no difference" | "too few"
  /** the verdict in words, with its figures */
  sentence: string
}

/** Below this the interval hangs on how evenly the errors fall, which so few do not show. Common practice, no source. */
export const FEWEST = 5

const CONFIDENCE = 0.95

/**
 * How what was used compares with what was planned.
 *
 * Estimator: the mean of the ratios actual ÷ planned, with the confidence limits for the mean by Student's t,
 * mean ± t(0.975, n − 1) · s ÷ √n (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.2).
 *
 * The mean of the ratios and not the ratio of the sums: what goes astray at the bench (drips, overspray, a heavy
 * hand) is a share of the coat, so each occasion says as much as another whatever its size, and the interval
 * follows from the textbook without approximation. The ratio of the sums would let one batch of 24 outweigh a
 * month of single cups. It holds as long as the ratios scatter evenly or a little to one side.
 *
 * @param samples of one kind of layer and one supply; any number
 * @throws {Refusal} a planned amount of zero or less, or an actual one below zero
 */
export function learn(samples: readonly Sample[]): Bias {
  const ratios = samples.map(ratioOf)
  const count = ratios.length
  if (count === 0) {
    const sentence = "Nothing has been measured yet."
    return { count, ratio: null, spread: null, interval: null, verdict: "too few", sentence }
  }
  const ratio = mean(ratios)
  if (count === 1) {
    return { count, ratio, spread: null, interval: null, verdict: "too few", sentence: tooFew(count) }
  }
  const spread = Math.sqrt(ratios.reduce((sum, one) => sum + (one - ratio) ** 2, 0) / (count - 1))
  const half = (studentT(count - 1, CONFIDENCE) * spread) / Math.sqrt(count)
  const interval = { low: ratio - half, high: ratio + half }
  const verdict = verdictOf(count, interval)
  return { count, ratio, spread, interval, verdict, sentence: sentenceOf(verdict, count, ratio, half) }
}

/**
 * The amount to offer for the design's next version: amount × ratio, to the whole base unit.
 *
 * @returns null when there is nothing to correct: too few occasions, or no difference to be seen
 */
export function offeredAmount(bias: Bias, amount: number): number | null {
  const ratio = ratioToOffer(bias)
  return ratio === null ? null : Math.round(amount * ratio)
}

/**
 * The drip loss to offer instead, where a film is given and the loss is what the plan had wrong. What is poured
 * grows as 1 ÷ (1 − loss), so the loss that gives `ratio` times as much is 1 − (1 − loss) ÷ ratio.
 *
 * @param dripPpm the loss planned with
 * @returns ppm; null when there is nothing to correct, or when no loss explains it: less is poured than the film
 *   holds, so that the film is thinner than planned
 */
export function offeredDripPpm(bias: Bias, dripPpm: number): number | null {
  const ratio = ratioToOffer(bias)
  if (ratio === null || ratio <= 0) return null
  const offered = Math.round(1_000_000 - (1_000_000 - dripPpm) / ratio)
  return offered >= 0 ? offered : null
}

/**
 * The transfer efficiency to offer for a sprayed film: what is sprayed grows as 1 ÷ transfer.
 *
 * @returns ppm; null when there is nothing to correct, or when more than all would have to land
 */
export function offeredTransferPpm(bias: Bias, transferPpm: number): number | null {
  const ratio = ratioToOffer(bias)
  if (ratio === null || ratio <= 0) return null
  const offered = Math.round(transferPpm / ratio)
  return offered <= 1_000_000 ? offered : null
}

/** Only a difference that is there is worth a correction. */
function ratioToOffer({ verdict, ratio }: Bias): number | null {
  switch (verdict) {
    case "more":
    case "less":
      return ratio
    case "no difference":
    case "too few":
      return null
  }
}

function ratioOf({ planned, actual }: Sample): number {
  if (!(Number.isFinite(planned) && planned > 0)) {
    throw new Refusal("Where nothing was planned, what was used cannot be compared with a plan.")
  }
  if (!(Number.isFinite(actual) && actual >= 0)) throw new Refusal("No one uses less than nothing.")
  return actual / planned
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}

function verdictOf(count: number, { low, high }: { low: number; high: number }): Bias["verdict"] {
  if (count < FEWEST) return "too few"
  if (low > 1) return "more"
  if (high < 1) return "less"
  return "no difference"
}

function sentenceOf(verdict: Bias["verdict"], count: number, ratio: number, half: number): string {
  const giveOrTake = half < 0.0005 ? "" : `, give or take ${percent(half)}`
  switch (verdict) {
    case "more":
      return `Uses ${percent(ratio - 1)} more than planned${giveOrTake}.`
    case "less":
      return `Uses ${percent(1 - ratio)} less than planned${giveOrTake}.`
    case "no difference":
      return `No difference to be seen: as planned${giveOrTake}.`
    case "too few":
      return tooFew(count)
  }
}

function tooFew(count: number): string {
  return `Too few to say: measured ${count === 1 ? "once" : `${count} times`}, ${FEWEST} times are needed.`
}

/** Whole percents; below one, tenths, and never "0 %". */
function percent(share: number): string {
  if (share >= 0.0095) return `${Math.round(share * 100)} %`
  return share >= 0.0005 ? `${Math.round(share * 1000) / 10} %` : "less than 0.1 %"
}
