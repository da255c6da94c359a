import { Refusal } from "../domain/refusal.ts"
import { parseStudioCode, studioCodeProblem } from "../domain/studio-code.ts"
import type { Act } from "../ledger/act.ts"
import { containerById, type LedgerContainer } from "../ledger/move.ts"
import type { Studio } from "../ledger/studio.ts"

/**
 * The row id of the container with that code, scanned or typed.
 *
 * @throws {Refusal} 404 with a sentence that says what may be wrong with the code
 */
export function containerId(studio: Pick<Studio, "file">, code: string): number {
  const read = parseStudioCode(code)
  const found =
    read?.kind === "container"
      ? studio.file.firstText<{ id: number }>("SELECT id FROM container WHERE code = ?", [read.code])
      : undefined
  if (found) return found.id
  const problem = studioCodeProblem(code)
  throw new Refusal(
    problem ??
      `There is no container with the code ${code.slice(0, 40)}. Scan its label, or find it on the shelf.`,
    { status: 404, field: "code" },
  )
}

/** The same as the ledger sees it, within an action. */
export function containerInAct(act: Act, code: string): LedgerContainer {
  return containerById(act, containerId(act, code))
}

/** "K0012 (Clear part A)": how sentences name a container. */
export function nameOf(container: { code: string; supply: string }): string {
  return `${container.code} (${container.supply})`
}

/** @throws {Refusal} nothing is in it */
export function refuseEmpty(container: LedgerContainer): void {
  if (container.amount_left > 0) return
  throw new Refusal(`${nameOf(container)} is empty. If something is in it after all, count it first.`)
}

/** @throws {Refusal} the action is dated before the container came */
export function refuseBeforeItCame(act: Act, container: LedgerContainer): void {
  if (container.received_on === null || act.happenedOn >= container.received_on) return
  throw new Refusal(`${nameOf(container)} came on ${container.received_on}; put a later day.`, {
    field: "happenedAt",
  })
}
