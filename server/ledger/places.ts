import type { Act } from "./act.ts"
import { stands } from "./stands.ts"

/** Puts a container somewhere; "" takes it from its place. */
export function putAt(act: Act, containerId: number, place: string): void {
  write(act, containerId, { place, gross_mg: null, empty_mg: null })
  act.file.runText("UPDATE container SET place = ? WHERE id = ?", [place === "" ? null : place, containerId])
}

/** Keeps what a container weighs empty, and the reading it was worked out from. */
export function keepEmptyWeight(
  act: Act,
  containerId: number,
  weight: { grossMg: number; emptyMg: number },
): void {
  write(act, containerId, { place: null, gross_mg: weight.grossMg, empty_mg: weight.emptyMg })
  act.file.runText("UPDATE container SET empty_mg = ? WHERE id = ?", [weight.emptyMg, containerId])
}

/** Works out again where a container stands and what it weighs empty, from the changes that still stand. */
export function refreshPlace(act: Act, containerId: number): void {
  const last = <Value>(column: "place" | "empty_mg") =>
    act.file.firstText<{ value: Value }>(
      `SELECT c.${column} AS value FROM container_change c WHERE c.container_id = ? AND c.${column} IS NOT NULL
         AND ${stands("c.action_id")}
       ORDER BY c.id DESC LIMIT 1`,
      [containerId],
    )?.value
  act.file.runText("UPDATE container SET place = ?, empty_mg = ? WHERE id = ?", [
    last<string>("place") || null,
    last<number>("empty_mg") ?? null,
    containerId,
  ])
}

function write(
  act: Act,
  containerId: number,
  change: { place: string | null; gross_mg: number | null; empty_mg: number | null },
): void {
  act.file.insert("container_change", { action_id: act.actionId, container_id: containerId, ...change })
}
