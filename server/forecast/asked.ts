import type { Studio } from "../ledger/studio.ts"
import { orderById } from "../orders/service.ts"
import type { DraftLine } from "./open-work.ts"

/** What was asked about: nothing, a line typed in, a draft order's lines, or what is tried out under What if. */
export type Asked =
  | { kind: "nothing" }
  | { kind: "typed"; line: DraftLine }
  | { kind: "draft"; orderId: number }
  | { kind: "tried"; lines: readonly DraftLine[] }

/** The lines asked about. Of a draft, cups still to be started; an order that is no draft is not counted in twice. */
export function linesAsked(studio: Studio, asked: Asked): readonly DraftLine[] {
  switch (asked.kind) {
    case "nothing":
      return []
    case "typed":
      return [asked.line]
    case "tried":
      return asked.lines
    case "draft":
      return draftLinesOf(studio, asked.orderId)
  }
}

/** @throws {Refusal} no such order */
function draftLinesOf(studio: Studio, orderId: number): DraftLine[] {
  const order = orderById(studio, orderId)
  if (order.state !== "draft") return []
  return order.lines
    .filter((line) => line.toStart > 0)
    .map(({ designId, toStart, dueOn }) => ({ designId, quantity: toStart, dueOn }))
}

/** The question as it stands in an address: "?draft=38". */
export function questionOf(asked: Asked): string {
  switch (asked.kind) {
    case "nothing":
      return ""
    case "draft":
      return `?draft=${asked.orderId}`
    case "typed": {
      const { designId, quantity, dueOn } = asked.line
      return `?designId=${designId}&quantity=${quantity}&dueOn=${dueOn}`
    }
    case "tried": {
      const fields = asked.lines.flatMap(({ designId, quantity, dueOn }, index) =>
        Object.entries({ on: "on", designId, quantity, dueOn }).map(
          ([field, value]) => [`lines[${index}][${field}]`, String(value)] as [string, string],
        ),
      )
      return `?${new URLSearchParams(fields)}`
    }
  }
}

/** Back to where it was asked. */
export function backOf(asked: Asked): { to: string; label: string } {
  return asked.kind === "tried"
    ? { to: `/what-if${questionOf(asked)}`, label: "What if" }
    : { to: `/forecast${questionOf(asked)}`, label: "What runs short" }
}

/** What a page counts in besides what is planned; null: nothing. */
export function supposingWords(asked: Asked): string | null {
  switch (asked.kind) {
    case "nothing":
      return null
    case "draft":
      return `With draft order ${asked.orderId}, as if it were planned.`
    case "typed":
      return "With the order that was typed in, as if it were planned."
    case "tried":
      return "With the orders that are tried out, as if they were planned."
  }
}
