import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { addBatch, moveCup } from "../ledger/cups.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { batchSubstitutes } from "./batch-plan.ts"
import { type BatchProgress, batchProgress, type CupProgress } from "./progress.ts"

/**
 * Some cups of a batch go on as a batch of their own, taking what the batch takes in place of its design's supplies
 * along. What they have on them stays as it is.
 *
 * @returns the new batch
 * @throws {Refusal} no cup chosen, one that is not in work, or none would stay
 */
export function splitBatch(
  studio: Studio,
  by: Actor,
  input: { batchId: number; cupIds: readonly number[] },
): Done<{ batchId: number }> {
  return act(studio, "split", by, input, (now) => {
    const batch = batchProgress(studio, input.batchId)
    const cups = chosenOf(inWorkOf(batch), input.cupIds, "split")
    if (cups.length === inWorkOf(batch).length) {
      throw new Refusal("Leave at least one cup in this batch: all of them together are a batch already.", {
        field: "cupIds",
      })
    }
    const batchId = addBatch(now, { versionId: batch.plan.versionId, note: batch.note })
    takeSubstitutesAlong(studio, now, batch.id, batchId)
    for (const cup of cups) moveCup(now, cup.id, batchId)
    return {
      summary: `${serialsOf(cups)} of ${batch.plan.designName} go on as batch ${batchId}, apart from batch ${batch.id}`,
      answer: { batchId },
    }
  })
}

/**
 * Cups of other batches of the same design version, with as many layers on them, go on in a batch: one, some, or all
 * of another batch.
 *
 * @throws {Refusal} no cup chosen, one that cannot go on with the batch, or the batch has none in work
 */
export function joinBatch(
  studio: Studio,
  by: Actor,
  input: { batchId: number; cupIds: readonly number[] },
): Done<{ cups: number }> {
  return act(studio, "join", by, input, (now) => {
    const batch = batchProgress(studio, input.batchId)
    const cups = chosenOf(
      mayJoin(studio, batch).flatMap((other) => other.cups),
      input.cupIds,
      "join",
    )
    for (const cup of cups) moveCup(now, cup.id, batch.id)
    return {
      summary: `${serialsOf(cups)} of ${batch.plan.designName} ${cups.length === 1 ? "goes" : "go"} on in batch ${batch.id}`,
      answer: { cups: cups.length },
    }
  })
}

/** Other batches with cups that may go on in a batch: of its design version, with the layers its own next cups have. */
export function mayJoin(studio: Studio, batch: BatchProgress): { batchId: number; cups: CupProgress[] }[] {
  const level = levelOf(batch)
  if (level === null) return []
  return studio.file
    .allText<{ id: number }>(
      `SELECT DISTINCT b.id FROM cup c JOIN batch b ON b.id = c.batch_id
       WHERE c.state = 'in work' AND b.version_id = ? AND b.id <> ? ORDER BY b.id`,
      [batch.plan.versionId, batch.id],
    )
    .map(({ id }) => ({
      batchId: id,
      cups: inWorkOf(batchProgress(studio, id)).filter((cup) => cup.layersDone === level),
    }))
    .filter(({ cups }) => cups.length > 0)
}

/** One time that cups went from one batch to another. */
export interface WentOn {
  fromBatchId: number
  toBatchId: number
  happenedAt: string
  serials: string[]
}

/** What went into a batch and out of it, the first first; what was undone is left out. */
export function wentOn({ file }: Studio, batchId: number): WentOn[] {
  return file
    .allText<Omit<WentOn, "serials"> & { serials: string }>(
      `SELECT m.from_batch_id AS fromBatchId, m.to_batch_id AS toBatchId, a.happened_at AS happenedAt,
         json_group_array(c.serial) AS serials
       FROM cup_move m JOIN action a ON a.id = m.action_id JOIN cup c ON c.id = m.cup_id
       WHERE (m.from_batch_id = :batch OR m.to_batch_id = :batch)
         AND ${stands("a.id")}
       GROUP BY a.id, m.from_batch_id, m.to_batch_id ORDER BY a.id`,
      { batch: batchId },
    )
    .map((row) => ({ ...row, serials: (JSON.parse(row.serials) as string[]).sort() }))
}

function inWorkOf({ cups }: BatchProgress): CupProgress[] {
  return cups.filter((cup) => cup.state === "in work")
}

/** How many layers the cups have that come next; null: none is in work. */
function levelOf(batch: BatchProgress): number | null {
  const inWork = inWorkOf(batch)
  return inWork.length === 0 ? null : Math.min(...inWork.map((cup) => cup.layersDone))
}

function chosenOf(
  from: readonly CupProgress[],
  cupIds: readonly number[],
  what: "split" | "join",
): CupProgress[] {
  if (cupIds.length === 0) throw new Refusal("Choose the cups first.", { field: "cupIds" })
  const chosen = from.filter((cup) => cupIds.includes(cup.id))
  if (chosen.length === new Set(cupIds).size) return chosen
  throw new Refusal(
    what === "split"
      ? "One of the cups you chose is not in work in this batch any more."
      : "One of the cups you chose cannot go on in this batch: it must be in work, of the same design version, with as many layers as the cups here.",
    { field: "cupIds", status: 409 },
  )
}

function takeSubstitutesAlong(studio: Studio, now: Act, from: number, to: number): void {
  const by = { action_id: now.actionId, batch_id: to }
  const chosen = batchSubstitutes(studio).get(from)
  for (const [supplyId, { supply, ratioPpm }] of chosen?.supplies ?? []) {
    const insteadOf = { supply_id: supplyId, substitute_id: supply.id, ratio_ppm: ratioPpm }
    now.file.insert("batch_substitute", { ...by, ...insteadOf })
  }
  for (const [systemId, system] of chosen?.resins ?? [])
    now.file.insert("batch_resin_substitute", { ...by, system_id: systemId, substitute_id: system.id })
}

function serialsOf(cups: readonly CupProgress[]): string {
  return cups.map((cup) => cup.serial).join(", ")
}
