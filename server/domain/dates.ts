import { Temporal } from "temporal-polyfill"
import { shorten } from "./number-text.ts"
import { MONTHS } from "./said-day.ts"

export { sayDate } from "./said-day.ts"

/** A calendar date as "2026-12-03". */
export type IsoDate = string

export type ParsedDate = { ok: true; date: IsoDate } | { ok: false; message: string }

const FULL_MONTHS = [
  "January",
  "February",
  "March",
  "April",
  "May",
  "June",
  "July",
  "August",
  "September",
  "October",
  "November",
  "December",
] as const

const FIRST_YEAR = 2000
const LAST_YEAR = 2100

/**
 * Reads a date as a label or a person writes it: "2026-12-03", "3 Dec 2026", "December 3, 2026", "12/2027",
 * "2027-12", "Dec 2027". A month alone means its last day, as on a label that gives an expiry.
 *
 * @param monthMeans "first day" for made-on, where the earlier day is the careful one
 * @returns the date, or one sentence saying how to write it: "03/12/2026" is two different days in two
 *   countries and is not guessed
 */
export function parseDate(text: string, monthMeans: "first day" | "last day" = "last day"): ParsedDate {
  const said = text.trim().toLowerCase()
  const refuse = (message: string): ParsedDate => ({ ok: false, message })
  if (said === "") return refuse("Write a date, like 3 Dec 2026 or 12/2027.")

  const wholeMonth = readMonth(said)
  if (wholeMonth !== null) {
    const problem = yearProblem(wholeMonth.year)
    if (problem !== null) return refuse(problem)
    if (wholeMonth.month < 1 || wholeMonth.month > 12) {
      return refuse("There are twelve months: write the month as 1 to 12, like 12/2027.")
    }
    const first = Temporal.PlainDate.from({ ...wholeMonth, day: 1 })
    const date = monthMeans === "first day" ? first : first.with({ day: first.daysInMonth })
    return { ok: true, date: date.toString() }
  }

  const day = readDay(said)
  if (day === null) {
    return refuse(`“${shorten(text)}” is not a date: write it like 3 Dec 2026 or 12/2027.`)
  }
  if (day === "two ways") {
    return refuse(`“${shorten(text)}” can be read two ways: write the month as a word, like 3 Dec 2026.`)
  }
  return calendarDate(day)
}

/** Days from one date to the next; negative when `to` comes before. */
export function daysBetween(from: IsoDate, to: IsoDate): number {
  return dayNumber(to) - dayNumber(from)
}

/**
 * The date so many days later, or earlier for a negative number.
 *
 * @throws {RangeError} when that is no date of the years 0 to 9999
 */
export function plusDays(date: IsoDate, days: number): IsoDate {
  const later = dayNumber(date) + days
  const known = written.get(later)
  if (known !== undefined) return known
  const text = new Date(later * DAY_MS).toISOString()
  if (text.length > 24) throw new RangeError(`${days} days from ${date} is off the calendar`)
  const day = text.slice(0, 10)
  if (written.size < MOST_WRITTEN) written.set(later, day)
  return day
}

/** Days written out before, by number: a forecast asks for the same few hundred many thousand times. */
const written = new Map<number, IsoDate>()
const MOST_WRITTEN = 10_000

/** The calendar date it is in `timeZone` at an instant ("2026-12-03T09:30:00Z"). */
export function dateAt(instant: string, timeZone: string): IsoDate {
  return Temporal.Instant.from(instant).toZonedDateTimeISO(timeZone).toPlainDate().toString()
}

const DAY_MS = 86_400_000

/** Days since 1970. By plain arithmetic: a forecast counts days some hundred thousand times. */
function dayNumber(date: IsoDate): number {
  return Date.UTC(Number(date.slice(0, 4)), Number(date.slice(5, 7)) - 1, Number(date.slice(8, 10))) / DAY_MS
}

interface Day {
  year: number
  month: number
  day: number
}

function readMonth(said: string): { year: number; month: number } | null {
  const numbers = /^(\d{1,2})\s?[/.-]\s?(\d{4})$/.exec(said)
  if (numbers !== null) return { month: Number(numbers[1]), year: Number(numbers[2]) }
  const yearFirst = /^(\d{4})\s?[/.-]\s?(\d{1,2})$/.exec(said)
  if (yearFirst !== null) return { month: Number(yearFirst[2]), year: Number(yearFirst[1]) }
  const word = /^([a-z]{3,9})\.?[\s,/-]*(\d{4})$/.exec(said)
  const month = word === null ? null : monthCalled(word[1]!)
  return month === null ? null : { month, year: Number(word![2]) }
}

function readDay(said: string): Day | "two ways" | null {
  const weekday = "(?:(?:mon|tues?|wed(?:nes)?|thu(?:rs)?|fri|sat(?:ur)?|sun)(?:day)?[.,]?\\s+)?"
  const iso = /^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})$/.exec(said)
  if (iso !== null) return { year: Number(iso[1]), month: Number(iso[2]), day: Number(iso[3]) }

  const dayFirst = new RegExp(
    `^${weekday}(\\d{1,2})(?:st|nd|rd|th)?[\\s.-]*([a-z]{3,9})\\.?[\\s,-]*(\\d{2,4})$`,
  )
  const monthFirst = new RegExp(
    `^${weekday}([a-z]{3,9})\\.?\\s*(\\d{1,2})(?:st|nd|rd|th)?(?:,\\s*|\\s+)(\\d{2,4})$`,
  )
  const wordDayFirst = dayFirst.exec(said)
  const wordMonthFirst = monthFirst.exec(said)
  const month = monthCalled(wordDayFirst?.[2] ?? wordMonthFirst?.[1] ?? "")
  if (month !== null) {
    const day = Number(wordDayFirst?.[1] ?? wordMonthFirst?.[2])
    return { year: Number(wordDayFirst?.[3] ?? wordMonthFirst?.[3]), month, day }
  }

  const numbers = /^(\d{1,2})[/.-](\d{1,2})[/.-](\d{2,4})$/.exec(said)
  if (numbers === null) return null
  const [one, two, year] = [Number(numbers[1]), Number(numbers[2]), Number(numbers[3])]
  if (one === two) return { year, month: one, day: one }
  if (one > 12) return { year, month: two, day: one }
  if (two > 12) return { year, month: one, day: two }
  return "two ways"
}

function monthCalled(word: string): number | null {
  if (word === "sept") return 9
  const index = FULL_MONTHS.findIndex((name, i) => {
    return name.toLowerCase() === word || MONTHS[i]!.toLowerCase() === word
  })
  return index < 0 ? null : index + 1
}

function calendarDate({ year, month, day }: Day): ParsedDate {
  const problem = yearProblem(year)
  if (problem !== null) return { ok: false, message: problem }
  if (month < 1 || month > 12) {
    return { ok: false, message: "There are twelve months: write the date like 3 Dec 2026." }
  }
  const inMonth = Temporal.PlainYearMonth.from({ year, month }).daysInMonth
  if (day < 1 || day > inMonth) {
    const name = `${FULL_MONTHS[month - 1]} ${year}`
    return { ok: false, message: `${name} has ${inMonth} days: check the day.` }
  }
  return { ok: true, date: Temporal.PlainDate.from({ year, month, day }).toString() }
}

function yearProblem(year: number): string | null {
  if (year < 100) return "Write the year with four digits, like 3 Dec 2026."
  if (year < FIRST_YEAR || year > LAST_YEAR) {
    return `The year ${year} is out of reach: check the year.`
  }
  return null
}
