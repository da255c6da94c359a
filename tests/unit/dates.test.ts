import { describe, expect, test } from "vitest"
import { dateAt, daysBetween, parseDate, plusDays, sayDate } from "../../server/domain/dates.ts"

describe("a date is read as a label or a person writes it", () => {
  test.each([
    ["2026-12-03", "2026-12-03"],
    ["2026/12/3", "2026-12-03"],
    ["3 Dec 2026", "2026-12-03"],
    ["3rd December 2026", "2026-12-03"],
    ["03DEC2026", "2026-12-03"],
    ["3-Dec-2026", "2026-12-03"],
    ["Dec 3, 2026", "2026-12-03"],
    ["december 3 2026", "2026-12-03"],
    ["Thu 3 Dec 2026", "2026-12-03"],
    ["12/25/2026", "2026-12-25"],
    ["25.12.2026", "2026-12-25"],
    ["12/12/2026", "2026-12-12"],
    ["29 Feb 2028", "2028-02-29"],
    ["1 Sept 2026", "2026-09-01"],
  ])("“%s” is %s", (text, date) => {
    expect(parseDate(text)).toEqual({ ok: true, date })
  })

  test.each([
    ["12/2027", "2027-12-31", "2027-12-01"],
    ["2/2028", "2028-02-29", "2028-02-01"],
    ["2027-02", "2027-02-28", "2027-02-01"],
    ["Dec 2027", "2027-12-31", "2027-12-01"],
    ["april 2027", "2027-04-30", "2027-04-01"],
  ])("a month alone, “%s”, is its last day for an expiry and its first for made-on", (text, last, first) => {
    expect(parseDate(text)).toEqual({ ok: true, date: last })
    expect(parseDate(text, "first day")).toEqual({ ok: true, date: first })
  })

  test.each([
    ["", "Write a date, like 3 Dec 2026 or 12/2027."],
    ["soon", "“soon” is not a date: write it like 3 Dec 2026 or 12/2027."],
    ["03/12/2026", "“03/12/2026” can be read two ways: write the month as a word, like 3 Dec 2026."],
    ["31 Nov 2026", "November 2026 has 30 days: check the day."],
    ["29 Feb 2027", "February 2027 has 28 days: check the day."],
    ["2026-02-30", "February 2026 has 28 days: check the day."],
    ["0 Dec 2026", "December 2026 has 31 days: check the day."],
    ["2026-13-01", "There are twelve months: write the date like 3 Dec 2026."],
    ["13/2027", "There are twelve months: write the month as 1 to 12, like 12/2027."],
    ["00/2027", "There are twelve months: write the month as 1 to 12, like 12/2027."],
    ["3 Dec 26", "Write the year with four digits, like 3 Dec 2026."],
    ["12/27", "“12/27” is not a date: write it like 3 Dec 2026 or 12/2027."],
    ["3 Dec 1926", "The year 1926 is out of reach: check the year."],
    ["12/2270", "The year 2270 is out of reach: check the year."],
    ["3 Foo 2026", "“3 Foo 2026” is not a date: write it like 3 Dec 2026 or 12/2027."],
    ["2026-12-03T10:00Z", "“2026-12-03T10:00Z” is not a date: write it like 3 Dec 2026 or 12/2027."],
  ])("“%s” is refused in a sentence", (text, message) => {
    expect(parseDate(text)).toEqual({ ok: false, message })
  })
})

describe("a date is said as a person says it", () => {
  test("without the year this year, with it in any other", () => {
    expect(sayDate("2026-12-08", "2026-11-25")).toBe("Tue 8 Dec")
    expect(sayDate("2027-01-08", "2026-12-31")).toBe("Fri 8 Jan 2027")
    expect(sayDate("2025-12-31", "2026-01-01")).toBe("Wed 31 Dec 2025")
    expect(sayDate("2028-02-29", "2028-01-01")).toBe("Tue 29 Feb")
    for (const wrong of ["2027-02-29", "2026-13-01", "3 Dec 2026", ""])
      expect(() => sayDate(wrong, "2026-12-01")).toThrow(RangeError)
  })
})

describe("days are counted on the calendar", () => {
  test("over a leap day, over a year's end, backwards", () => {
    expect(daysBetween("2028-02-28", "2028-03-01")).toBe(2)
    expect(daysBetween("2026-12-31", "2027-01-01")).toBe(1)
    expect(daysBetween("2026-12-08", "2026-12-01")).toBe(-7)
    expect(plusDays("2028-02-28", 1)).toBe("2028-02-29")
    expect(plusDays("2026-01-01", -1)).toBe("2025-12-31")
  })

  test("what is no date, or runs off the calendar, is a mistake of the program", () => {
    expect(() => plusDays("soon", 1)).toThrow(RangeError)
    expect(() => plusDays("9999-12-31", 1)).toThrow(RangeError)
  })

  test("the same instant is two dates in two places", () => {
    expect(dateAt("2026-12-03T03:30:00Z", "America/Chicago")).toBe("2026-12-02")
    expect(dateAt("2026-12-03T03:30:00Z", "Europe/Berlin")).toBe("2026-12-03")
  })
})
