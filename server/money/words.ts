import type { Column } from "./materials.ts"

/** What the parts of the account are called, with a sentence where the word alone does not say it. */
export const COLUMN_WORDS: Record<Column, { label: string; about?: string }> = {
  opening: { label: "On the shelf before" },
  begun: {
    label: "Put in from before the book",
    about: "What stood on the shelf when the book was begun, at what you said it cost.",
  },
  bought: { label: "Bought" },
  extras: { label: "Shipping and tax", about: "Of deliveries that are finished, shared out over what came." },
  cups: { label: "Used in cups", about: "Scrapped cups too." },
  "other use": { label: "Used for no cup" },
  waste: { label: "Spilled or thrown away" },
  given: { label: "Given away" },
  counted: { label: "Missing when counted", about: "Below zero: counts found more." },
  late: {
    label: "Shipping and tax of what was gone",
    about: "Part of a delivery that was used before its shipping and tax were put in.",
  },
  closing: { label: "On the shelf after" },
}

/** Which of them come in and which go out, as a person adds them up. */
export const COMING: readonly Column[] = ["opening", "begun", "bought", "extras"]
export const GOING: readonly Column[] = ["cups", "other use", "waste", "given", "counted", "late"]

/** What the pages about money say of themselves. */
export const NO_ADVICE =
  "This is a record of what was written into the book. It is no tax advice: which of it counts, and how, your tax office or adviser says."
