import { randomBytes } from "node:crypto"
import type { ErrorRequestHandler, RequestHandler } from "express"
import type { Logger } from "pino"
import { Refusal } from "../domain/refusal.ts"
import { FormError, type Problem, problemsOf, wantsJson } from "./forms.ts"

/** Sentences for what express and its readers refuse before a route sees it. Their own words are never shown. */
const SENTENCES: Record<number, string> = {
  400: "That request could not be understood.",
  404: "There is no page at this address.",
  405: "That cannot be done at this address.",
  408: "That took too long to arrive.",
  413: "That is more than one form may hold; send it in smaller parts.",
  415: "That kind of data is not read here.",
}

/** The last route: nothing answers at this address. */
export const notFound: RequestHandler = (_req, _res, next) => {
  next(new Refusal(SENTENCES[404] as string, { status: 404 }))
}

/**
 * Every error ends here as one clear sentence with its status, never a stack. What was not foreseen is logged
 * whole under a reference number, and the person gets the number.
 *
 * @param explain turns errors of other layers (a locked file) into a refusal; undefined when it cannot
 */
export function errorPage(
  logger: Logger,
  explain: (error: unknown) => Refusal | undefined,
): ErrorRequestHandler {
  return (thrown: unknown, req, res, next) => {
    // half an answer is out: all that is left is to cut the line
    if (res.headersSent) return next(thrown)
    const known = problemsOf(thrown) === null ? (explain(thrown) ?? thrown) : thrown
    const { status, problems } = tell(known)
    const reference = problems === null ? randomBytes(3).toString("hex").toUpperCase() : null
    if (reference !== null)
      logger.error({ reference, err: thrown, method: req.method, path: req.path }, "not foreseen")
    const told: readonly Problem[] = problems ?? [{ field: null, sentence: unforeseen(reference as string) }]
    res.status(status)
    if (wantsJson(req)) {
      res.json({ sentence: told[0]?.sentence, problems: told })
      return
    }
    try {
      res.page("error", {
        title: status === 404 ? "Not here" : status >= 500 ? "That went wrong" : "That was not done",
        sentences: told.map((problem) => problem.sentence),
        retry: status !== 404,
      })
    } catch (error) {
      // the layout itself needs what is broken
      logger.error({ reference, err: error }, "the error page failed too")
      res.type("text/plain").send(`${told.map((problem) => problem.sentence).join("\n")}\n`)
    }
  }
}

function tell(error: unknown): { status: number; problems: readonly Problem[] | null } {
  if (error instanceof Refusal) return { status: error.status, problems: problemsOf(error) }
  if (error instanceof FormError) return { status: 422, problems: error.problems }
  const status = statusOf(error)
  if (status >= 500) return { status, problems: null }
  return { status, problems: [{ field: null, sentence: SENTENCES[status] ?? (SENTENCES[400] as string) }] }
}

function statusOf(error: unknown): number {
  const status = typeof error === "object" && error !== null && "status" in error ? error.status : undefined
  return typeof status === "number" && status >= 400 && status < 600 ? status : 500
}

function unforeseen(reference: string): string {
  return `Something went wrong inside Lotcup. Before you do it again, look at History to see whether it was kept. If you report it, say number ${reference}.`
}
