import { readFileSync } from "node:fs"
import type { MakingPhoto } from "../batches/service.ts"
import type { Beside } from "../domain/side-by-side.ts"
import type { CupTrace } from "./cup.ts"
import type { LotTrace } from "./lot.ts"
import type { LotBalance } from "./suspect.ts"

/*
 * Traces as JSON for other programs. Their form is described by a JSON Schema (2020-12) each, which the program also
 * serves; a change that a reader would notice gets another version there and here.
 */

/** A cup's trace with the photos of its making, as `cup-trace.schema.json` describes it. */
export function cupTraceJson(trace: CupTrace, photos: readonly MakingPhoto[]) {
  return {
    ...headOf("cup", 1),
    ...trace,
    photos: photos.map(({ photoId, layer, happenedAt }) => ({
      happenedAt,
      layer,
      address: `/photos/${photoId}`,
    })),
  }
}

/** A lot's trace with where all of it went, as `lot-trace.schema.json` describes it. */
export function lotTraceJson(trace: LotTrace, balance: LotBalance, compared: Beside) {
  return { ...headOf("lot", 2), ...trace, balance, compared }
}

/** The schema of a trace, as text. */
export function schemaText(of: "cup" | "lot"): string {
  return readFileSync(new URL(`./${of}-trace.schema.json`, import.meta.url), "utf8")
}

function headOf(of: "cup" | "lot", version: number) {
  return {
    $schema: `urn:lotcup:trace:${of}:${version}`,
    format: `lotcup ${of} trace`,
    formatVersion: version,
  }
}
