import type { Selectable } from "kysely"
import { madeOf } from "../../db/made-of.ts"
import type { Tables } from "../../db/tables.ts"
import type { Layer, Plan, Use } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { type Catalogue, readCatalogue } from "./catalogue.ts"
import type { UseInput, VersionInput } from "./inputs.ts"
import { useOf } from "./use-rows.ts"

/** A version as it is kept. */
export interface Version {
  versionId: number
  designId: number
  name: string
  number: number
  /** a batch has used it: it changes no more */
  frozen: boolean
  input: VersionInput
  /** the layers' ids, in the order of the plan */
  layerIds: readonly number[]
}

/**
 * A version's layer plan, as the computations see it.
 *
 * @throws {Refusal} 404 when there is no such version
 */
export function planOf(studio: Studio, versionId: number): Plan {
  return plansOf(studio, [versionId]).get(versionId)!
}

/** Plans of several versions, read together. @throws {Refusal} 404 when one is not there */
export function plansOf(studio: Studio, versionIds: readonly number[]): Map<number, Plan> {
  const catalogue = readCatalogue(studio)
  return new Map(
    readVersions(studio, versionIds).map(([versions, layers, uses]) => [
      versions[0]!.id,
      planOfRows(studio.file, versions, layers, uses, catalogue),
    ]),
  )
}

const planOfRows = madeOf(
  (...[versions, layers, uses, catalogue]: [...VersionRows, Catalogue]) =>
    planFrom(versionFrom([versions, layers, uses]), catalogue),
  ([version]) => version!.id,
)

/** @throws {Refusal} 404 when there is no such version */
export function versionOf(studio: Studio, versionId: number): Version {
  return versionFrom(readVersions(studio, [versionId])[0]!)
}

/** The version itself, alone in its list, its layers in their order, and what they use. */
type VersionRows = [
  version: readonly (Selectable<Tables["design_version"]> & { name: string })[],
  layers: readonly Selectable<Tables["layer"]>[],
  uses: readonly (Selectable<Tables["layer_use"]> & { version_id: number })[],
]

const VERSIONS = `SELECT v.*, d.name FROM design_version v JOIN design d ON d.id = v.design_id
  WHERE v.id IN (SELECT value FROM json_each(?))`
const LAYERS = "SELECT * FROM layer WHERE version_id IN (SELECT value FROM json_each(?)) ORDER BY position"
const USES = `SELECT u.*, l.version_id FROM layer l JOIN layer_use u ON u.layer_id = l.id
  WHERE l.version_id IN (SELECT value FROM json_each(?)) ORDER BY u.position`

/** Versions in the order asked for. Plans are read so often that building the queries shows, so they are text. */
function readVersions({ file }: Studio, versionIds: readonly number[]): VersionRows[] {
  const ids = [JSON.stringify(versionIds)]
  const versions = grouped(file.allText<VersionRows[0][number]>(VERSIONS, ids), "id")
  const layers = grouped(file.allText<VersionRows[1][number]>(LAYERS, ids), "version_id")
  const uses = grouped(file.allText<VersionRows[2][number]>(USES, ids), "version_id")
  return versionIds.map((versionId) => {
    const version = versions.get(versionId)
    if (!version) throw new Refusal("There is no such design.", { status: 404 })
    return [version, layers.get(versionId) ?? [], uses.get(versionId) ?? []]
  })
}

function grouped<Row extends Record<Key, number>, Key extends string>(
  rows: readonly Row[],
  key: Key,
): Map<number, Row[]> {
  const groups = new Map<number, Row[]>()
  for (const row of rows) {
    const group = groups.get(row[key])
    if (group) group.push(row)
    else groups.set(row[key], [row])
  }
  return groups
}

function versionFrom([versions, layers, uses]: VersionRows): Version {
  const version = versions[0]!
  const usesOf = grouped(uses, "layer_id")
  return {
    versionId: version.id,
    designId: version.design_id,
    name: version.name,
    number: version.number,
    frozen: version.frozen === 1,
    input: {
      blankSupplyId: version.blank_supply_id,
      fullCureMin: version.full_cure_min,
      priceMicro: version.price_micro,
      layers: layers.map((layer) => ({
        kind: layer.kind,
        name: layer.name,
        handsOnMin: layer.hands_on_min,
        turnerMin: layer.turner_min,
        recoatEarliestMin: layer.recoat_earliest_min,
        recoatLatestMin: layer.recoat_latest_min,
        band:
          layer.band_from_um === null || layer.band_to_um === null
            ? null
            : { fromUm: layer.band_from_um, toUm: layer.band_to_um },
        uses: (usesOf.get(layer.id) ?? []).map(useOf),
      })),
    },
    layerIds: layers.map((layer) => layer.id),
  }
}

/**
 * A plan from a version as entered. A layer that is not kept yet gets its position for an id.
 *
 * @throws {Refusal} a blank, supply or resin system that is not there, naming its field
 */
export function planFrom(
  version: Pick<Version, "versionId" | "name" | "number" | "input"> & { layerIds?: readonly number[] },
  catalogue: Catalogue,
): Plan {
  const { input } = version
  const blank = catalogue.blanks.get(input.blankSupplyId)
  if (!blank) throw new Refusal("Choose the cup this design goes on.", { field: "blankSupplyId" })
  return {
    versionId: version.versionId,
    designName: version.name,
    versionNumber: version.number,
    blank,
    fullCureMin: input.fullCureMin,
    layers: input.layers.map(
      (layer, index): Layer => ({
        id: version.layerIds?.[index] ?? index + 1,
        position: index + 1,
        kind: layer.kind,
        name: layer.name,
        handsOnMin: layer.handsOnMin,
        turnerMin: layer.turnerMin,
        recoatEarliestMin: layer.recoatEarliestMin,
        recoatLatestMin: layer.recoatLatestMin,
        band: layer.band,
        uses: layer.uses.map((use, place) =>
          useFrom(use, catalogue, layer.name, `layers[${index}][uses][${place}]`),
        ),
      }),
    ),
  }
}

function useFrom(use: UseInput, catalogue: Catalogue, layer: string, field: string): Use {
  if ("resinSystemId" in use) {
    const { resinSystemId, ...rest } = use
    const system = catalogue.systems.get(resinSystemId)
    if (!system)
      throw new Refusal(`${layer}: choose which resin is mixed.`, { field: `${field}[resinSystemId]` })
    return { ...rest, system }
  }
  const { supplyId, ...rest } = use
  const supply = catalogue.supplies.get(supplyId)
  if (!supply) throw new Refusal(`${layer}: choose what is used.`, { field: `${field}[supplyId]` })
  return { ...rest, supply }
}
