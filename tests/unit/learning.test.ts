import { describe, expect, test } from "vitest"
import {
  FEWEST,
  learn,
  offeredAmount,
  offeredDripPpm,
  offeredTransferPpm,
  type Sample,
} from "../../server/domain/learning.ts"

/** Ratios in percent of a planned 20 mL. */
const measured = (...percents: number[]): Sample[] =>
  percents.map((percent) => ({ planned: 20_000, actual: percent * 200 }))

const usesMore = measured(106, 110, 107, 109, 108)

describe("planned against actual", () => {
  test("a clear difference is said in words, with what it may be off", () => {
    // mean 1.08; s = √(10 ÷ 4) % = 1.58 %; t(0.975, 4) = 2.776, so ± 1.96 %
    const bias = learn(usesMore)
    expect(bias).toMatchObject({ count: 5, verdict: "more" })
    expect(bias.ratio).toBeCloseTo(1.08, 12)
    expect(bias.spread).toBeCloseTo(Math.sqrt(0.001 / 4), 12)
    expect(bias.interval!.low).toBeCloseTo(1.08 - 0.01963, 5)
    expect(bias.sentence).toBe("Uses 8 % more than planned, give or take 2 %.")
    expect(learn(measured(94, 90, 93, 91, 92)).sentence).toBe("Uses 8 % less than planned, give or take 2 %.")
  })

  test("an interval with the plan inside it is no difference", () => {
    // mean 101.17 %, s 6.24 %, t(0.975, 5) = 2.571: ± 6.55 %
    const bias = learn(measured(95, 112, 99, 104, 96, 101))
    expect(bias.verdict).toBe("no difference")
    expect(bias.sentence).toBe("No difference to be seen: as planned, give or take 7 %.")
  })

  test("fewer than five say nothing, however far off they are", () => {
    const bias = learn(measured(150, 151, 150, 149))
    expect(bias.verdict).toBe("too few")
    expect(bias.interval!.low).toBeGreaterThan(1.4)
    expect(bias.sentence).toBe("Too few to say: measured 4 times, 5 times are needed.")
    expect(FEWEST).toBe(5)
  })

  test("one occasion has no spread and no interval; none has no ratio either", () => {
    expect(learn(measured(110))).toEqual({
      count: 1,
      ratio: 1.1,
      spread: null,
      interval: null,
      verdict: "too few",
      sentence: "Too few to say: measured once, 5 times are needed.",
    })
    expect(learn([])).toMatchObject({
      count: 0,
      ratio: null,
      spread: null,
      interval: null,
      verdict: "too few",
    })
  })

  test("a batch of 24 counts as much as a single cup", () => {
    const big = { planned: 480_000, actual: 480_000 }
    const small = { planned: 20_000, actual: 24_000 }
    expect(learn([big, small]).ratio).toBeCloseTo(1.1, 12)
  })

  test("always exactly as planned is no difference, without an interval to speak of", () => {
    expect(learn(measured(100, 100, 100, 100, 100))).toMatchObject({
      verdict: "no difference",
      sentence: "No difference to be seen: as planned.",
    })
  })

  test("small differences are not rounded away to 0 %", () => {
    const bias = learn(measured(100.4, 100.41, 100.39, 100.4, 100.4))
    expect(bias.sentence).toBe("Uses 0.4 % more than planned.")
  })

  test("nothing planned, or less than nothing used, is refused", () => {
    const zero = { planned: 0, actual: 5 }
    expect(() => learn([...usesMore, zero])).toThrow(
      "Where nothing was planned, what was used cannot be compared with a plan.",
    )
    expect(() => learn([{ planned: Number.NaN, actual: 5 }])).toThrow("nothing was planned")
    expect(() => learn([{ planned: 5, actual: -1 }])).toThrow("No one uses less than nothing.")
    expect(() => learn([{ planned: 5, actual: Number.POSITIVE_INFINITY }])).toThrow()
    expect(learn([{ planned: 5, actual: 0 }]).ratio).toBe(0)
  })
})

describe("what is offered for the next version", () => {
  const more = learn(usesMore)
  const less = learn(measured(94, 90, 93, 91, 92))
  const none = learn(measured(95, 112, 99, 104, 96, 101))
  const few = learn(measured(150, 150))

  test("the amount by the ratio, whole", () => {
    expect(offeredAmount(more, 25_000)).toBe(27_000)
    expect(offeredAmount(less, 25_001)).toBe(23_001)
  })

  test("or the drip loss that explains it", () => {
    // 1 − 0.75 ÷ 1.08 = 0.305556
    expect(offeredDripPpm(more, 250_000)).toBe(305_556)
    // 1 − 0.75 ÷ 0.92 = 0.184783
    expect(offeredDripPpm(less, 250_000)).toBe(184_783)
  })

  test("no drip loss explains pouring less than the film holds", () => {
    expect(offeredDripPpm(less, 50_000)).toBeNull()
  })

  test("or the share of a spray that lands", () => {
    expect(offeredTransferPpm(more, 300_000)).toBe(277_778)
    expect(offeredTransferPpm(less, 950_000)).toBeNull()
  })

  test("nothing where there is no difference, or too few to say", () => {
    for (const bias of [none, few, learn([])]) {
      expect(offeredAmount(bias, 25_000)).toBeNull()
      expect(offeredDripPpm(bias, 250_000)).toBeNull()
      expect(offeredTransferPpm(bias, 300_000)).toBeNull()
    }
  })

  test("never used at all offers no loss", () => {
    const never = learn(measured(0, 0, 0, 0, 0))
    expect(never.sentence).toBe("Uses 100 % less than planned.")
    expect(offeredDripPpm(never, 250_000)).toBeNull()
    expect(offeredTransferPpm(never, 300_000)).toBeNull()
  })
})
