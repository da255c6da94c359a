import type { Request } from "express"
import type { Studio } from "../ledger/studio.ts"
import { type FormState, idParam } from "../web/forms.ts"
import { type BatchProgress, batchProgress, mayJoin } from "./service.ts"

/** Cups that go on apart from their batch, and cups of other batches that go on in it. */
export function apartPage(studio: Studio, req: Request, _state: FormState | null) {
  const batch = batchProgress(studio, idParam(req))
  const inWork = batch.cups.filter((cup) => cup.state === "in work")
  return {
    title: "Split or join",
    lead: `${batch.plan.designName}, batch ${batch.id}. What is on the cups stays with each of them.`,
    back: { to: `/batches/${batch.id}`, label: "The batch" },
    batchId: batch.id,
    // with a single one there is nothing to split
    cups: inWork.length < 2 ? [] : inWork.map((cup) => cupChoice(batch, cup)),
    others: mayJoin(studio, batch).map(({ batchId, cups }) => ({
      batchId,
      cups: cups.map((cup) => cupChoice(batch, cup)),
    })),
  }
}

function cupChoice(batch: BatchProgress, { id, serial, layersDone }: BatchProgress["cups"][number]) {
  return { id, serial, layersDone, of: batch.plan.layers.length }
}
