import { describe, expect, test } from "vitest"
import {
  addLife,
  effectiveExpiry,
  isUsableOn,
  type Life,
  lotExpiry,
  openUseBy,
} from "../../server/domain/shelf-life.ts"

const months = (value: number) => ({ unit: "months", value }) as const
const days = (value: number) => ({ unit: "days", value }) as const
const hours = (value: number) => ({ unit: "hours", value }) as const
const never: Life = { unit: "never" }

describe("a life runs from a date", () => {
  test.each([
    ["2026-01-31", months(1), "2026-02-28"],
    ["2028-01-31", months(1), "2028-02-29"],
    ["2026-08-31", months(6), "2027-02-28"],
    ["2028-02-29", months(12), "2029-02-28"],
    ["2028-02-29", months(48), "2032-02-29"],
    ["2026-11-15", months(12), "2027-11-15"],
    ["2026-10-31", months(1), "2026-11-30"],
    ["2028-02-28", days(1), "2028-02-29"],
    ["2026-12-31", days(1), "2027-01-01"],
    ["2026-03-01", days(730), "2028-02-29"],
  ])("%s plus %o is %s", (date, life, end) => {
    expect(addLife(date, life)).toBe(end)
  })

  test("hours from a date count whole days only: 36 hours is one day, 48 two", () => {
    expect(addLife("2026-03-01", hours(23))).toBe("2026-03-01")
    expect(addLife("2026-03-01", hours(36))).toBe("2026-03-02")
    expect(addLife("2026-03-01", hours(48))).toBe("2026-03-03")
  })

  test("a life longer than the calendar ends with it", () => {
    expect(addLife("2026-03-01", months(1e9))).toBe("9999-12-31")
    expect(addLife("2026-03-01", days(1e9))).toBe("9999-12-31")
    expect(addLife("9999-12-31", hours(1e9))).toBe("9999-12-31")
  })
})

describe("a lot's expiry rests on what is known of it", () => {
  const lot = { label: null, madeOn: null, receivedOn: null, shelfLife: null }
  test.each([
    [{ label: "2027-05-01" }, "2027-05-01", "label"],
    [{ label: "2027-05-01", madeOn: "2026-05-31", shelfLife: months(12) }, "2027-05-01", "label"],
    [{ label: "2027-05-31", madeOn: "2026-05-01", shelfLife: months(12) }, "2027-05-01", "shelf-life"],
    [{ label: "2027-05-01", madeOn: "2026-05-01", shelfLife: months(12) }, "2027-05-01", "label"],
    [{ madeOn: "2026-05-01", receivedOn: "2026-06-01", shelfLife: months(12) }, "2027-05-01", "shelf-life"],
    [{ receivedOn: "2026-06-01", shelfLife: months(12) }, "2027-06-01", "shelf-life"],
    [{ label: "2030-01-01", receivedOn: "2026-06-01", shelfLife: months(12) }, "2030-01-01", "label"],
    [{ label: "2027-05-01", shelfLife: never }, "2027-05-01", "label"],
    [{ madeOn: "2026-05-01", shelfLife: never }, null, "does-not-expire"],
    [{ madeOn: "2026-05-01", receivedOn: "2026-06-01" }, null, "unknown"],
    [{ shelfLife: months(12) }, null, "unknown"],
    [{}, null, "unknown"],
  ] as const)("%o expires %s by %s", (known, expiresOn, basis) => {
    expect(lotExpiry({ ...lot, ...known })).toEqual({ expiresOn, basis })
  })
})

describe("an opened container has an after-opening life in the studio's time zone", () => {
  const chicago = "America/Chicago"

  test("the day it was opened is the studio's, not Greenwich's", () => {
    // half past nine in the evening of 2 December
    expect(openUseBy("2026-12-03T03:30:00Z", chicago, days(30))).toBe("2027-01-01")
    expect(openUseBy("2026-12-03T03:30:00Z", "Europe/Berlin", days(30))).toBe("2027-01-02")
    expect(openUseBy("2026-02-01T03:30:00Z", chicago, months(1))).toBe("2026-02-28")
  })

  test("24 hours into summer time end an hour later on the wall, here on the next day", () => {
    // clocks go forward on 8 March 2026 at 02:00; opened 7 March 23:30 CST, ends 9 March 00:30 CDT
    expect(openUseBy("2026-03-08T05:30:00Z", chicago, hours(24))).toBe("2026-03-09")
    // a week before, the same wall time ends the next evening
    expect(openUseBy("2026-03-01T05:30:00Z", chicago, hours(24))).toBe("2026-03-01")
  })

  test("24 hours out of summer time end an hour earlier on the wall, here on the same day", () => {
    // clocks go back on 1 November 2026 at 02:00; opened 00:15 CDT, ends 23:15 CST the same day
    expect(openUseBy("2026-11-01T05:15:00Z", chicago, hours(24))).toBe("2026-11-01")
    expect(openUseBy("2026-10-25T05:15:00Z", chicago, hours(24))).toBe("2026-10-26")
  })

  test("days are the calendar's on both sides of the change", () => {
    expect(openUseBy("2026-03-08T05:30:00Z", chicago, days(1))).toBe("2026-03-08")
    expect(openUseBy("2026-11-01T05:15:00Z", chicago, days(1))).toBe("2026-11-02")
  })

  test("a life of absurdly many hours ends in a far year, not in an error", () => {
    expect(openUseBy("2026-12-03T03:30:00Z", chicago, hours(1e15))).toMatch(/^302\d-\d\d-\d\d$/)
  })

  test("no life after opening, no day", () => {
    expect(openUseBy("2026-12-03T03:30:00Z", chicago, null)).toBeNull()
    expect(openUseBy("2026-12-03T03:30:00Z", chicago, never)).toBeNull()
  })
})

describe("the earliest day counts, and it is itself usable", () => {
  test("label or after-opening, whichever comes first; unknown ones do not count", () => {
    expect(effectiveExpiry("2027-05-01", "2026-12-24", null)).toBe("2026-12-24")
    expect(effectiveExpiry(null, "2027-05-01")).toBe("2027-05-01")
    expect(effectiveExpiry(null, null)).toBeNull()
    expect(effectiveExpiry()).toBeNull()
  })

  test("usable through its day, not after; without a day always", () => {
    expect(isUsableOn("2026-12-24", "2026-12-23")).toBe(true)
    expect(isUsableOn("2026-12-24", "2026-12-24")).toBe(true)
    expect(isUsableOn("2026-12-24", "2026-12-25")).toBe(false)
    expect(isUsableOn(null, "2099-01-01")).toBe(true)
  })
})
