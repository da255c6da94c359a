import type { ExpiryBasis } from "../../db/tables.ts"

/** What a lot's day rests on, so that one that was reckoned is not taken for one that is printed. */
export const EXPIRY_BASIS = {
  label: "as printed on the label",
  "shelf-life": "not printed: reckoned from how long it keeps unopened",
  "does-not-expire": "it does not expire",
  unknown: "no day is known: look at the label",
} as const satisfies Record<ExpiryBasis, string>
