import { z } from "zod"
import { type IsoDate, parseDate } from "../domain/dates.ts"
import { readNumber } from "../domain/number-text.ts"
import { Refusal } from "../domain/refusal.ts"

/*
 * Pieces for the zod schema of a form. Each turns what a browser sends (text, or nothing) into a typed value, or
 * gives one sentence. `{field}` in a sentence becomes the field's name ("lotNumber" → "Lot number") unless a
 * label is given.
 */

const FIELD = "{field}"
// biome-ignore lint/suspicious/noControlCharactersInRegex: those are what is refused
const CONTROL = /[\u0000-\u001f\u007f]/
// biome-ignore lint/suspicious/noControlCharactersInRegex: line breaks and tabs are welcome here
const CONTROL_BUT_LINES = /[\u0000-\u0008\u000b-\u001f\u007f]/

/** One line of text that must be there, trimmed. */
export function text(max: number, label = FIELD) {
  return line(max, label).min(1, `${label} is missing.`)
}

/** One line of text, "" when left empty. */
export function optionalText(max: number, label = FIELD) {
  return z.preprocess((raw) => raw ?? "", line(max, label))
}

/** Several lines of text, "" when left empty. */
export function longText(max: number, label = FIELD) {
  return z.preprocess(
    (raw) => (typeof raw === "string" ? raw.replace(/\r\n?/g, "\n") : (raw ?? "")),
    wellFormed(label)
      .trim()
      .max(max, `${label} is too long: at most ${say(max)} characters.`)
      .refine((value) => !CONTROL_BUT_LINES.test(value), `${label} has characters that cannot be kept.`),
  )
}

/** What a scanner read: kept as it is, the separators between its parts included. */
export function scanned(max = 200, label = FIELD) {
  return wellFormed(label)
    .min(1, `${label} is missing.`)
    .max(max, `${label} is too long for a code: at most ${say(max)} characters.`)
    .refine((value) => !value.includes("\u0000"), `${label} has characters that cannot be kept.`)
}

/** A whole number from `min` (1 unless given) to `max`. */
export function count(max: number, label = FIELD, min = 1) {
  const sentence = `${label} must be a whole number from ${say(min)} to ${say(max)}.`
  return number(sentence, (value) => Number.isSafeInteger(value) && value >= min && value <= max)
}

/** A number with decimals, from `min` to `max`; "1,5" and "1.5" are the same. */
export function decimal(limits: { min: number; max: number; label?: string; unit?: string }) {
  const { min, max, label = FIELD, unit } = limits
  const sentence = `${label} must be a number from ${say(min)} to ${say(max)}${unit === undefined ? "" : ` ${unit}`}.`
  return number(sentence, (value) => value >= min && value <= max)
}

/** The number of a row, as a select or a hidden field sends it. */
export const id = chosen()

/** The same with a label of its own. */
export function chosen(label = FIELD) {
  return z
    .unknown()
    .optional()
    .transform((raw, context): number => {
      const value = typeof raw === "string" && /^\d{1,15}$/.test(raw) ? Number(raw) : raw
      if (typeof value === "number" && Number.isSafeInteger(value) && value > 0) return value
      context.addIssue({ code: "custom", message: `${label}: choose one.` })
      return z.NEVER
    })
}

/**
 * A calendar day, as a date field sends it ("2026-02-28") or as a person types it from a label ("Dec 2027").
 *
 * @param monthMeans what a month alone stands for: the last day on an expiry, the first on a made-on date
 */
export function isoDay(label = FIELD, monthMeans: "first day" | "last day" = "last day") {
  return z
    .unknown()
    .optional()
    .transform((raw, context): IsoDate => {
      const typed = typeof raw === "string" ? raw.trim() : ""
      const parsed = typed === "" ? null : parseDate(typed.slice(0, 100), monthMeans)
      if (parsed?.ok === true) return parsed.date
      context.addIssue({
        code: "custom",
        message: parsed === null ? `${label} is missing.` : `${label}: ${parsed.message}`,
      })
      return z.NEVER
    })
}

/** One of a fixed list. */
export function oneOf<const Choice extends string>(choices: readonly Choice[], label = FIELD) {
  return z.enum(choices as readonly [Choice, ...Choice[]], `${label}: choose one.`)
}

/** Any of a fixed list: several checkboxes with one name. */
export function anyOf<const Choice extends string>(choices: readonly Choice[], label = FIELD) {
  const sentence = `${label}: choose from the list.`
  return z.preprocess(
    (raw) => (raw === undefined ? [] : Array.isArray(raw) ? [...new Set(raw)] : [raw]),
    z.array(z.enum(choices as readonly [Choice, ...Choice[]], sentence), sentence),
  )
}

/** Ticked or not. */
export const checkbox = z.preprocess((raw) => raw === "on" || raw === "1" || raw === true, z.boolean())

/** A piece that may be left empty: null then. */
export function orEmpty<Piece extends z.ZodType>(piece: Piece) {
  return z.preprocess(
    (raw) => (raw === undefined || (typeof raw === "string" && raw.trim() === "") ? null : raw),
    piece.nullable(),
  )
}

/** The key `{{hidden-key}}` puts into a form: the same form sent twice is done once. */
export const idempotencyKey = z
  .string("This page is out of date: open it again.")
  .regex(/^[\w-]{8,100}$/, "This page is out of date: open it again.")

/** Where to go afterwards: a path of ours, "/" for anything else. */
export const returnTo = z.preprocess((raw) => (isLocalPath(raw) ? raw : "/"), z.string())

/**
 * Lines of a form: `uses[0][supplyId]`, `uses[0][amount]`, `uses[1]…`. A line whose `blankWhen` field is empty
 * is left out, so that a page can offer spare ones. Each line keeps its place, so that a sentence lands beside
 * the right field.
 */
export function rows<Row extends z.ZodType>(
  row: Row,
  limits: { max: number; blankWhen: string; what?: string },
) {
  const what = limits.what ?? "lines"
  return z
    .unknown()
    .optional()
    .transform((raw, context): z.output<Row>[] => {
      const given: unknown[] = Array.isArray(raw) ? raw : []
      if (given.length > limits.max) {
        context.addIssue({ code: "custom", message: `That is more than ${say(limits.max)} ${what}.` })
        return z.NEVER
      }
      const taken: z.output<Row>[] = []
      given.forEach((one, index) => {
        if (isBlank(one, limits.blankWhen)) return
        const parsed = row.safeParse(one, { error: (issue) => plainSentence(issue) })
        if (parsed.success) taken.push(parsed.data)
        else
          for (const issue of parsed.error.issues)
            context.addIssue({ code: "custom", message: issue.message, path: [index, ...issue.path] })
      })
      return taken
    })
}

/** What a domain reader made of a text, or its sentence beside the field. */
export function orRefuse<Result extends { ok: true }>(
  result: Result | { ok: false; message: string },
  field: string,
): Result {
  if (result.ok) return result
  throw new Refusal(result.message, { field })
}

/** A path on this server, and nothing that a browser takes for another one. */
export function isLocalPath(value: unknown): value is string {
  return typeof value === "string" && /^\/(?![/\\])[\x21-\x7e]{0,1000}$/.test(value) && !value.includes("\\")
}

/** A sentence for an issue whose schema brought none. */
export function plainSentence(issue: { code: string; input?: unknown }): string {
  return issue.input === undefined || issue.input === ""
    ? `${FIELD} is missing.`
    : `${FIELD} is not understood.`
}

function line(max: number, label: string) {
  return wellFormed(label)
    .trim()
    .max(max, `${label} is too long: at most ${say(max)} characters.`)
    .refine((value) => !CONTROL.test(value), `${label} has characters that cannot be kept.`)
}

function wellFormed(label: string) {
  return z.string({
    error: (issue) => (issue.input === undefined ? `${label} is missing.` : `${label} is not understood.`),
  })
}

function number(sentence: string, fits: (value: number) => boolean) {
  return z
    .unknown()
    .optional()
    .transform((raw, context): number => {
      const read = typeof raw === "string" ? readSigned(raw) : raw
      if (typeof read === "number" && fits(read)) return read
      context.addIssue({ code: "custom", message: sentence })
      return z.NEVER
    })
}

function readSigned(raw: string): number {
  const said = raw.trim()
  const sign = /^[-−]/.test(said) ? -1 : 1
  const read = readNumber(said.replace(/^[-−]/, ""))
  return read.ok ? sign * Number(read.decimal) : Number.NaN
}

function isBlank(row: unknown, field: string): boolean {
  if (typeof row !== "object" || row === null) return true
  const value: unknown = (row as Record<string, unknown>)[field]
  return value === undefined || (typeof value === "string" && value.trim() === "")
}

function say(value: number): string {
  return value.toLocaleString("en-US", { maximumFractionDigits: 6 })
}
