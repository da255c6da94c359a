/**
 * A plain "no" to the person: the one sentence they read, and the field it is about if there is one.
 *
 * Thrown by domain and services when what was asked cannot be done as asked; nothing has been changed then.
 * The page is shown again with the sentence on top and everything typed kept. A mistake of the programmer is
 * an ordinary Error instead.
 *
 * @param sentence what is wrong and, where it helps, what to do: "Only 3 of 5 cups are still in work."
 * @param options.field name of the form field it belongs to
 * @param options.status HTTP status of the answer: 422 when not given, 404 for "there is no such thing"
 */
export class Refusal extends Error {
  override readonly name: string = "Refusal"
  readonly field: string | undefined
  readonly status: number

  constructor(sentence: string, options: { field?: string; status?: number; cause?: unknown } = {}) {
    super(sentence, options.cause === undefined ? undefined : { cause: options.cause })
    this.field = options.field
    this.status = options.status ?? 422
  }
}

/** What some work gives, or the refusal it ends in; any other error goes on. */
export function refusalOr<T>(work: () => T): T | Refusal {
  try {
    return work()
  } catch (error) {
    if (error instanceof Refusal) return error
    throw error
  }
}
