import { Refusal } from "../domain/refusal.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { move } from "../ledger/move.ts"
import type { Studio } from "../ledger/studio.ts"
import type { WriteOffKind } from "./amounts.ts"
import { containerInAct, nameOf, refuseEmpty } from "./find.ts"
import { useByOf } from "./marks.ts"
import { wasteReason } from "./reasons.ts"

/** So many at once: more than that would not be looked through. */
export const MOST_THROWN_OUT = 200

/** So many are named in the history's sentence; each has its own movement all the same. */
const NAMED = 3

interface ThrownOut {
  codes: readonly string[]
  kind: WriteOffKind
  /** kept with the action: one of `WASTE_REASONS` or any words; may be empty */
  reason: string
  /** what else is said of it */
  note?: string
}

/**
 * Takes all that is left in several containers past their day out of the book, in one action, so that one undo
 * brings all of them back.
 *
 * @throws {Refusal} none chosen, unknown, empty by now, or not past its day
 */
export function throwOut(studio: Studio, by: Actor, out: ThrownOut): Done<{ codes: string[] }> {
  return act(studio, out.kind, { ...by, reason: out.reason }, out, (now) => {
    const containers = [...new Set(out.codes)].map((code) => containerInAct(now, code))
    if (containers.length === 0) throw new Refusal("Tick what goes out first.", { field: "codes" })
    for (const container of containers) {
      refuseEmpty(container)
      refuseStillGood(now, container)
      move(now, container.id, -container.amount_left, { kind: out.kind, basis: "counted" })
    }
    const verb = wasteReason(out.reason)?.verb ?? (out.kind === "waste" ? "Spilled" : "Threw away")
    const names = containers.slice(0, NAMED).map(nameOf).join(", ")
    const more = containers.length > NAMED ? ` and ${containers.length - NAMED} more` : ""
    const what =
      containers.length === 1
        ? `${names}, past its day`
        : `${containers.length} containers past their day: ${names}${more}`
    return {
      summary: `${verb} ${what}${out.note ? `: ${out.note}` : ""}`,
      answer: { codes: containers.map(({ code }) => code) },
    }
  })
}

/** The list may have been looked at before somebody put the lot's day right. */
function refuseStillGood(
  now: Act,
  container: { id: number; supply_id: number; code: string; supply: string },
) {
  if (!isUsableOn(useByOf(now, container), now.happenedOn)) return
  throw new Refusal(`${nameOf(container)} is not past its day. Open the list again.`, {
    field: "codes",
    status: 409,
  })
}
