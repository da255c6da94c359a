const MOST_KEPT = 1000

/**
 * Does what a form asks once, however often the same form is sent: a double tap makes no second order. For
 * writes that are no action of the ledger, which keeps its keys for good; here they are remembered while the
 * server runs. What was refused may be sent again.
 */
export class Once<Answer> {
  readonly #answers = new Map<string, Answer>()

  /** @param key the form's hidden key. @returns what `work` returned for it, now or before */
  do(key: string, work: () => Answer): Answer {
    const known = this.#answers.get(key)
    if (known !== undefined) return known
    const answer = work()
    this.#answers.set(key, answer)
    const [oldest] = this.#answers.keys()
    if (this.#answers.size > MOST_KEPT && oldest !== undefined) this.#answers.delete(oldest)
    return answer
  }
}
