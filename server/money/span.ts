import { z } from "zod"
import { type IsoDate, sayDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { isoDay, orEmpty } from "../web/fields.ts"

/** A span of days as an address asks for it; this calendar year where it does not. */
export const SpanQuery = z.object({ from: orEmpty(isoDay("From", "first day")), to: orEmpty(isoDay("To")) })

export interface Span {
  from: IsoDate
  to: IsoDate
  /** null where the span reaches until today: then all there is counts */
  until: IsoDate | null
  words: string
  /** other spans, by the words of their links */
  others: { label: string; query: string; current: boolean }[]
  query: string
  /** none of those that are named */
  isOther: boolean
}

/** @throws {Refusal} 400: it ends before it begins */
export function spanOf(studio: Studio, asked: z.output<typeof SpanQuery>): Span {
  const today = todayOf(studio)
  const year = Number(today.slice(0, 4))
  const from = asked.from ?? `${year}-01-01`
  const to = asked.to ?? (asked.from !== null && asked.from > today ? asked.from : today)
  if (from > to) throw new Refusal("That span ends before it begins: exchange the two days.", { status: 400 })
  const query = queryOf(from, to)
  const named = [
    { label: "This year", from: `${year}-01-01`, to: today },
    { label: String(year - 1), from: `${year - 1}-01-01`, to: `${year - 1}-12-31` },
    { label: String(year - 2), from: `${year - 2}-01-01`, to: `${year - 2}-12-31` },
  ].map(({ label, ...span }) => ({
    label,
    query: queryOf(span.from, span.to),
    current: span.from === from && span.to === to,
  }))
  return {
    from,
    to,
    until: to >= today ? null : to,
    words: `from ${sayDate(from, today)} to ${to === today ? "today" : sayDate(to, today)}`,
    others: named,
    query,
    isOther: named.every(({ current }) => !current),
  }
}

function queryOf(from: IsoDate, to: IsoDate): string {
  return `from=${from}&to=${to}`
}
