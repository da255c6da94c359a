import type { Request, Response, Router } from "express"
import type { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import type { PageModel } from "./answers.ts"
import { plainSentence } from "./fields.ts"
import { fieldName, flatten, type Typed } from "./nest.ts"

/** One thing wrong with a form. `field` is its name in the page, null when it is about the whole. */
export interface Problem {
  field: string | null
  sentence: string
}

/** A form that is shown again: what was typed, what is wrong. `form` tells several forms of a page apart. */
export interface FormState {
  form: string
  problems: readonly Problem[]
  values: Record<string, readonly string[]>
  typed: Typed
}

/** A form that could not be read. */
export class FormError extends Error {
  override readonly name = "FormError"
  readonly problems: readonly Problem[]

  constructor(problems: readonly Problem[]) {
    super(problems.map((problem) => problem.sentence).join(" "))
    this.problems = problems
  }

  /** Sentence by field, the first of each. */
  get fields(): Record<string, string> {
    const fields: Record<string, string> = {}
    for (const { field, sentence } of this.problems) if (field !== null) fields[field] ??= sentence
    return fields
  }
}

/** What a line of a form is called in a sentence about it, counted from 0; null: "Line 2". */
type LineName = (index: number) => string | null

/**
 * Reads a form or a JSON body.
 *
 * @returns what the schema makes of it
 * @throws {FormError} with a plain sentence for each field that is wrong
 */
export function readForm<Schema extends z.ZodType>(
  schema: Schema,
  body: unknown,
  lineName: LineName = () => null,
): z.output<Schema> {
  const parsed = schema.safeParse(body ?? {}, { error: (issue) => plainSentence(issue) })
  if (parsed.success) return parsed.data
  throw new FormError(
    parsed.error.issues.map((issue) => ({
      field: issue.path.length === 0 ? null : fieldName(issue.path),
      sentence: withLabel(issue.message, issue.path, lineName),
    })),
  )
}

/**
 * Reads what stands behind the "?" of an address.
 *
 * @throws {Refusal} 400 with the first sentence
 */
export function readQuery<Schema extends z.ZodType>(schema: Schema, req: Request): z.output<Schema> {
  try {
    return readForm(schema, req.query)
  } catch (error) {
    if (error instanceof FormError)
      throw new Refusal(error.problems[0]?.sentence ?? error.message, { status: 400 })
    throw error
  }
}

/** The row number in an address, as `/batches/:id`. @throws {Refusal} 404 when it is none */
export function idParam(req: Request, name = "id"): number {
  const value = req.params[name]
  if (typeof value === "string" && /^[1-9]\d{0,14}$/.test(value)) return Number(value)
  throw new Refusal("There is no such page.", { status: 404 })
}

/** A code or serial in an address, as `/cups/:serial`. @throws {Refusal} 404 when it cannot be one */
export function codeParam(req: Request, name = "code"): string {
  const value = req.params[name]
  if (typeof value === "string" && /^[\x21-\x7e]{1,60}$/.test(value)) return value
  throw new Refusal("There is no such page.", { status: 404 })
}

interface FormPost<Schema extends z.ZodType> {
  path: string
  form: Schema
  /** What its lines are called, as they were sent; left out: by their number. */
  lineName?: (body: Typed) => LineName
  /** Does it: calls the service, then `res.saved(…)`. Throws `Refusal` (or lets the service throw it). */
  save: (input: z.output<Schema>, req: Request, res: Response) => void | Promise<void>
}

interface Shown<Model extends PageModel> {
  view: string
  /** What the page shows. `state` is there when the form is shown again: take the number of lines from it. */
  show: (req: Request, state: FormState | null) => Model | Promise<Model>
}

/**
 * A page with its form: GET shows it; POST reads the form and saves, or shows the same page again with status
 * 422, the sentence on top, each sentence beside its field, everything typed kept.
 *
 * ```ts
 * const OpenForm = z.object({ key: idempotencyKey, count: count(1000, "How many"), lot: optionalText(80) })
 *
 * formPage(router, {
 *   path: "/supplies/:id/receive",
 *   view: "receiving/by-hand",              // server/receiving/views/by-hand.hbs
 *   show: (req) => ({ title: "Receive by hand", supply: findSupply(studio, idParam(req)) }),
 *   form: OpenForm,
 *   save: (input, req, res) => {
 *     const done = receive(studio, { ...input, supplyId: idParam(req) })   // may throw Refusal
 *     res.saved(`${input.count} received.`, { to: "/shelf", undo: done.actionId })
 *   },
 * })
 * ```
 * ```hbs
 * <form method="post">
 *   {{hidden-key}}
 *   {{> number-field name="count" label="How many" value=1}}
 *   {{> field name="lot" label="Lot number" optional=true hint="As printed on the label"}}
 *   {{> big-button label="Receive" icon="check"}}
 * </form>
 * ```
 */
export function formPage<Schema extends z.ZodType, Model extends PageModel>(
  router: Router,
  page: FormPost<Schema> & Shown<Model>,
): void {
  router.get(page.path, async (req, res) => {
    res.page(page.view, await page.show(req, null))
  })
  formPost(router, page, page)
}

/**
 * A form that posts to a path of its own. `again` is the page it stands on, shown again when it is refused;
 * without it a refusal gets a page of its own with a way back, which is enough for forms of one button.
 */
export function formPost<Schema extends z.ZodType, Model extends PageModel>(
  router: Router,
  post: FormPost<Schema>,
  again?: Shown<Model>,
): void {
  router.post(post.path, async (req, res) => {
    try {
      await post.save(readForm(post.form, req.body, post.lineName?.(typedIn(req.body))), req, res)
    } catch (error) {
      const state = again === undefined || wantsJson(req) ? null : stateOf(error, req.body)
      if (again === undefined || state === null) throw error
      res.status(error instanceof Refusal ? error.status : 422)
      // a `formPage`: its address shows the page also when nothing is sent there
      res.locals.isOwnPage = (again as unknown) === post
      res.page(again.view, await again.show(req, state), state)
    }
  })
}

/** The problems of a refused form or request; null when the error is of another kind. */
export function problemsOf(error: unknown): readonly Problem[] | null {
  if (error instanceof FormError) return error.problems
  if (error instanceof Refusal) return [{ field: error.field ?? null, sentence: error.message }]
  return null
}

/** Whether the browser's own code asked (fetch with `Accept: application/json`) and not a person's click. */
export function wantsJson(req: Request): boolean {
  return req.accepts(["html", "json"]) === "json"
}

/** The lines typed into a form, for showing as many again: `rowsTyped(state, "uses") ?? saved.uses`. */
export function rowsTyped(state: FormState | null, name: string): readonly Typed[] | null {
  const given = state?.typed[name]
  return Array.isArray(given) ? given.filter((row) => typeof row === "object" && row !== null) : null
}

function stateOf(error: unknown, body: unknown): FormState | null {
  const problems = problemsOf(error)
  // what is not there cannot be shown again
  if (problems === null || (error instanceof Refusal && error.status === 404)) return null
  const typed = typedIn(body)
  return { form: typeof typed._form === "string" ? typed._form : "", problems, values: flatten(typed), typed }
}

function typedIn(body: unknown): Typed {
  return typeof body === "object" && body !== null ? (body as Typed) : {}
}

/** "{field}" by its name in words, and the line it stands in: "Line 2: Amount is missing." */
function withLabel(sentence: string, path: readonly PropertyKey[], lineName: LineName): string {
  const name = path.findLast((step) => typeof step === "string") ?? "This"
  const words = String(name)
    .replace(/Id$/, "")
    .replace(/([a-z])([A-Z])/g, (_all, before: string, after: string) => `${before} ${after.toLowerCase()}`)
  const label = words.charAt(0).toUpperCase() + words.slice(1)
  const line = path.find((step) => typeof step === "number")
  const told = sentence.replaceAll("{field}", label)
  return line === undefined ? told : `${lineName(Number(line)) ?? `Line ${Number(line) + 1}`}: ${told}`
}
