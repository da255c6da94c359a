import fc from "fast-check"
import { Temporal } from "temporal-polyfill"
import { expect, test } from "vitest"
import { daysBetween, parseDate, plusDays, sayDate } from "../../server/domain/dates.ts"
import { addLife } from "../../server/domain/shelf-life.ts"

const DAY_MS = 86_400_000
/** Dates by plain counting of days since 1970, apart from the code under test. */
const isoOf = (day: number) => new Date(day * DAY_MS).toISOString().slice(0, 10)
const dayNumber = fc.integer({ min: 10_957, max: 47_846 }) // 2000-01-01 to 2100-12-31

test("counting days agrees with the calendar of Temporal", () => {
  fc.assert(
    fc.property(dayNumber, dayNumber, (a, b) => {
      const [from, to] = [Temporal.PlainDate.from(isoOf(a)), Temporal.PlainDate.from(isoOf(b))]
      expect(daysBetween(from.toString(), to.toString())).toBe(from.until(to, { largestUnit: "days" }).days)
      expect(plusDays(from.toString(), b - a)).toBe(from.add({ days: b - a }).toString())
    }),
  )
})

test("a date said with its year is read back as the same date", () => {
  fc.assert(
    fc.property(dayNumber, (day) => {
      expect(parseDate(sayDate(isoOf(day), "1999-01-01"))).toEqual({ ok: true, date: isoOf(day) })
      expect(parseDate(isoOf(day))).toEqual({ ok: true, date: isoOf(day) })
    }),
  )
})

test("so many months later is the same day of the month or the month's last", () => {
  fc.assert(
    fc.property(dayNumber, fc.integer({ min: 1, max: 240 }), (day, value) => {
      const start = new Date(day * DAY_MS)
      const month = start.getUTCMonth() + value
      const lastOfMonth = new Date(Date.UTC(start.getUTCFullYear(), month + 1, 0)).getUTCDate()
      const expected = new Date(
        Date.UTC(start.getUTCFullYear(), month, Math.min(start.getUTCDate(), lastOfMonth)),
      )
      expect(addLife(isoOf(day), { unit: "months", value })).toBe(expected.toISOString().slice(0, 10))
    }),
  )
})

test("whatever is typed for a date gives a real date or a sentence", () => {
  const typed = fc.oneof(
    fc.string({ unit: "binary", maxLength: 40 }),
    fc.stringMatching(/^[0-9]{1,4}[-/. ](dec|feb|[0-9]{1,2})[-/. ][0-9]{1,4}$/),
    fc.stringMatching(/^[0-9]{1,4}[-/. ][0-9]{1,4}$/),
  )
  fc.assert(
    fc.property(typed, (text) => {
      const parsed = parseDate(text)
      if (parsed.ok) expect(new Date(`${parsed.date}T00:00:00Z`).toISOString().slice(0, 10)).toBe(parsed.date)
      else expect(parsed.message).toMatch(/^[^\n]{10,200}\.$/u)
    }),
    { numRuns: 500 },
  )
})
