import { isDeepStrictEqual } from "node:util"
import { sql } from "../../db/words.ts"
import type { Measures } from "../domain/plan.ts"
import { type PlanProblem, planProblems } from "../domain/plan-problems.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { readCatalogue } from "./catalogue.ts"
import type { DesignInput, LayerInput, VersionInput } from "./inputs.ts"
import { planFrom, versionOf } from "./plans.ts"
import { useRow } from "./use-rows.ts"

export type {
  AmountUseInput,
  DesignInput,
  LayerInput,
  PieceUseInput,
  ResinUseInput,
  SprayUseInput,
  UseInput,
  VersionInput,
} from "./inputs.ts"
export { type PerCup, perCup } from "./per-cup.ts"
export { planOf, plansOf, type Version, versionOf } from "./plans.ts"
export { editorWith, type Suggestion } from "./suggestion.ts"
export { LAYER_WORDS, sayMinutes } from "./words.ts"

/** A design in its latest version. */
export interface DesignRow {
  designId: number
  versionId: number
  name: string
  number: number
  frozen: boolean
  blankSupplyId: number
  blank: string
  layerCount: number
  priceMicro: number
}

/** All designs in their latest version, by name. */
export function designs(studio: Studio): DesignRow[] {
  return studio.file
    .all(
      sql
        .selectFrom("design")
        .innerJoin("design_version as v", "v.design_id", "design.id")
        .innerJoin("supply", "supply.id", "v.blank_supply_id")
        .select(({ fn, selectFrom }) => [
          "design.id as designId",
          "v.id as versionId",
          "design.name",
          "v.number",
          "v.frozen",
          "v.blank_supply_id as blankSupplyId",
          "supply.name as blank",
          "v.price_micro as priceMicro",
          selectFrom("layer")
            .whereRef("layer.version_id", "=", "v.id")
            .select(fn.countAll<number>().as("count"))
            .as("layerCount"),
        ])
        .where(({ not, exists, selectFrom }) =>
          not(
            exists(
              selectFrom("design_version as later")
                .select("later.id")
                .whereRef("later.design_id", "=", "v.design_id")
                .whereRef("later.number", ">", "v.number"),
            ),
          ),
        )
        .orderBy("design.name"),
    )
    .map((row) => ({ ...row, frozen: row.frozen === 1, layerCount: row.layerCount ?? 0 }))
}

/**
 * The version a new batch or order of a design uses.
 *
 * @throws {Refusal} 404 when there is no such design
 */
export function latestVersionId(studio: Studio, designId: number): number {
  const row = studio.file.first(
    sql
      .selectFrom("design_version")
      .select("id")
      .where("design_id", "=", designId)
      .orderBy("number", "desc")
      .limit(1),
  )
  if (!row) throw new Refusal("There is no such design.", { status: 404 })
  return row.id
}

/** A design's versions, the latest first. */
export function versionsOf(
  studio: Studio,
  designId: number,
): { versionId: number; number: number; frozen: boolean }[] {
  return studio.file
    .all(
      sql
        .selectFrom("design_version")
        .select(["id as versionId", "number", "frozen"])
        .where("design_id", "=", designId)
        .orderBy("number", "desc"),
    )
    .map((row) => ({ ...row, frozen: row.frozen === 1 }))
}

/**
 * Keeps a new design with its first version.
 *
 * @throws {Refusal} a name that is taken, or a plan that cannot be made
 */
export function addDesign(studio: Studio, input: DesignInput): { designId: number; versionId: number } {
  return studio.file.transaction(() => {
    const name = freeName(studio, input.name, null)
    const designId = studio.file.insert("design", { name })
    const versionId = writeVersion(studio, { designId, name, number: 1 }, input.version)
    return { designId, versionId }
  })
}

/**
 * Keeps a further version of a design.
 *
 * @returns the version's id
 * @throws {Refusal} no such design, or a plan that cannot be made
 */
export function addVersion(studio: Studio, designId: number, input: VersionInput): number {
  return studio.file.transaction(() => {
    const latest = versionOf(studio, latestVersionId(studio, designId))
    return writeVersion(studio, { designId, name: latest.name, number: latest.number + 1 }, input)
  })
}

/** What became of a change to a design. */
export interface Changed {
  versionId: number
  number: number
  /** the version before was in use, so this one stands beside it; otherwise it was changed in place */
  isNew: boolean
}

/**
 * Changes a design: its latest version in place while no batch has used it, otherwise in a new version. Nothing
 * but another name makes no version.
 *
 * @throws {Refusal} a name that is taken, or a plan that cannot be made
 */
export function changeDesign(studio: Studio, designId: number, input: DesignInput): Changed {
  const { file } = studio
  return file.transaction(() => {
    const latest = versionOf(studio, latestVersionId(studio, designId))
    const name = freeName(studio, input.name, designId)
    if (name !== latest.name) file.run(sql.updateTable("design").set({ name }).where("id", "=", designId))
    const { versionId, number } = latest
    if (isDeepStrictEqual(latest.input, input.version)) return { versionId, number, isNew: false }
    if (latest.frozen) {
      const next = number + 1
      return {
        versionId: writeVersion(studio, { designId, name, number: next }, input.version),
        number: next,
        isNew: true,
      }
    }
    checkVersion(studio, name, input.version)
    file.run(sql.deleteFrom("layer").where("version_id", "=", versionId))
    file.run(
      sql
        .updateTable("design_version")
        .set({
          blank_supply_id: input.version.blankSupplyId,
          full_cure_min: input.version.fullCureMin,
          price_micro: input.version.priceMicro,
        })
        .where("id", "=", versionId),
    )
    writeLayers(studio, versionId, input.version.layers)
    return { versionId, number, isNew: false }
  })
}

function writeVersion(
  studio: Studio,
  of: { designId: number; name: string; number: number },
  input: VersionInput,
): number {
  checkVersion(studio, of.name, input)
  const versionId = studio.file.insert("design_version", {
    design_id: of.designId,
    number: of.number,
    blank_supply_id: input.blankSupplyId,
    full_cure_min: input.fullCureMin,
    price_micro: input.priceMicro,
  })
  writeLayers(studio, versionId, input.layers)
  return versionId
}

function writeLayers(studio: Studio, versionId: number, layers: readonly LayerInput[]): void {
  for (const [index, layer] of layers.entries()) {
    const layerId = studio.file.insert("layer", {
      version_id: versionId,
      position: index + 1,
      kind: layer.kind,
      name: layer.name,
      hands_on_min: layer.handsOnMin,
      turner_min: layer.turnerMin,
      recoat_earliest_min: layer.recoatEarliestMin,
      recoat_latest_min: layer.recoatLatestMin,
      band_from_um: layer.band?.fromUm ?? null,
      band_to_um: layer.band?.toUm ?? null,
    })
    for (const [place, use] of layer.uses.entries()) {
      studio.file.insert("layer_use", { layer_id: layerId, position: place + 1, ...useRow(use) })
    }
  }
}

/**
 * What stops a plan as entered, and what is worth a look.
 *
 * @throws {Refusal} a blank, supply or resin system that is not there
 */
export function versionProblems(studio: Studio, name: string, input: VersionInput): PlanProblem[] {
  const plan = planFrom({ versionId: 0, name, number: 0, input }, readCatalogue(studio))
  return planProblems(plan, measuresOf(studio))
}

/** @throws {Refusal} a plan that cannot be made: one sentence, with the field it is about */
function checkVersion(studio: Studio, name: string, input: VersionInput): void {
  if (input.layers.length === 0) throw new Refusal("A design needs at least one layer.", { field: "layers" })
  const stop = versionProblems(studio, name, input).find((problem) => problem.severity === "stop")
  if (!stop) return
  if (stop.layerPosition === null) throw new Refusal(stop.sentence, { field: "blankSupplyId" })
  const index = stop.layerPosition - 1
  throw new Refusal(`${input.layers[index]?.name}: ${stop.sentence}`, { field: `layers[${index}]` })
}

function measuresOf(studio: Studio): Measures {
  const { volumeStepUl, massStepMg } = settingsOf(studio)
  return { volumeStepUl, massStepMg }
}

function freeName(studio: Studio, name: string, designId: number | null): string {
  const trimmed = name.trim()
  if (trimmed === "") throw new Refusal("Give the design a name.", { field: "name" })
  const other = studio.file.firstText("SELECT 1 FROM design WHERE lower(name) = lower(?) AND id <> ?", [
    trimmed,
    designId ?? 0,
  ])
  if (other) throw new Refusal(`There is already a design called ${trimmed}.`, { field: "name" })
  return trimmed
}
