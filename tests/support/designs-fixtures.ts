import { Temporal } from "temporal-polyfill"
import { openStudioFile } from "../../db/migrate.ts"
import type { SupplyKind } from "../../db/tables.ts"
import type { DesignInput, LayerInput } from "../../server/designs/service.ts"
import type { Studio } from "../../server/ledger/studio.ts"

/** A file in memory with what a design is made of, and the ids of it. */
export function studioWithSupplies() {
  const file = openStudioFile(":memory:")
  const studio: Studio = { file, now: () => Temporal.Instant.from("2026-03-02T09:00:00Z") }
  const supply = (
    name: string,
    kind: SupplyKind,
    baseUnit: "uL" | "mg" | "um" | "mm2" | "each",
    densityMgPerMl: number | null = null,
  ) => file.insert("supply", { name, kind, base_unit: baseUnit, density_mg_per_ml: densityMgPerMl })
  const ids = {
    partA: supply("Clear resin A", "resin", "uL", 1150),
    partB: supply("Clear resin B", "hardener", "uL", 970),
    cup: supply("Slim 30", "blank", "each"),
    white: supply("White primer", "paint", "mg"),
    blue: supply("Blue paint", "paint", "mg"),
    glitter: supply("Silver glitter", "glitter", "mg"),
    vinyl: supply("Black vinyl", "vinyl", "mm2"),
    wipe: supply("Wipes", "consumable", "each"),
    box: supply("Gift box", "packaging", "each"),
    alcohol: supply("Isopropyl alcohol", "solvent", "uL", 785),
  }
  for (const hazard of ["flammable-liquid", "eye-irritant"])
    file.insert("supply_hazard", { supply_id: ids.alcohol, hazard })
  const resin = file.insert("resin_system", {
    name: "Clear resin",
    part_a_supply_id: ids.partA,
    part_b_supply_id: ids.partB,
    ratio_basis: "volume",
    ratio_a: 1,
    ratio_b: 1,
    pot_life_min: 45,
    largest_mix_ul: 500_000,
    mixing_min: 5,
    cup_work_min: 10,
    recoat_earliest_min: 480,
    recoat_latest_min: 1440,
    full_cure_min: 4320,
  })
  // slim 30 oz as assumed in plan-fixtures
  file.insert("blank", { supply_id: ids.cup, bare_lip_um: 10_000, bare_base_um: 3_000 })
  for (const [position, [height_um, diameter_um]] of [
    [0, 70_000] as const,
    [240_000, 76_000] as const,
  ].entries())
    file.insert("blank_ring", { blank_supply_id: ids.cup, position: position + 1, height_um, diameter_um })
  return { studio, ids, resin }
}

export type Fixture = ReturnType<typeof studioWithSupplies>

export const layerInput = (over: Partial<LayerInput> = {}): LayerInput => ({
  kind: "counted",
  name: "Pack",
  handsOnMin: 5,
  turnerMin: 0,
  recoatEarliestMin: 0,
  recoatLatestMin: null,
  band: null,
  uses: [],
  ...over,
})

/** Prep, base coat, one resin coat with glitter, a box. */
export function plainDesign(
  { ids, resin }: Fixture,
  over: Partial<DesignInput["version"]> = {},
): DesignInput {
  const whole = { sharePpm: 1_000_000 }
  return {
    name: "Sea glass",
    version: {
      blankSupplyId: ids.cup,
      fullCureMin: 4320,
      priceMicro: 45_000_000,
      layers: [
        layerInput({
          kind: "prep",
          name: "Prep",
          uses: [{ how: "per-cup", supplyId: ids.alcohol, amount: 5_000, ...whole }],
        }),
        layerInput({
          kind: "base-coat",
          name: "Base coat",
          recoatEarliestMin: 60,
          uses: [{ how: "per-cup", supplyId: ids.white, amount: 12_000, ...whole }],
        }),
        layerInput({
          kind: "resin",
          name: "Glitter coat",
          turnerMin: 480,
          recoatEarliestMin: 480,
          recoatLatestMin: 1440,
          uses: [
            {
              how: "resin-mixed",
              resinSystemId: resin,
              amount: 25_000,
              sharePpm: 1_000_000,
              dripPpm: 250_000,
              residueUl: 1_500,
            },
            { how: "per-cup", supplyId: ids.glitter, amount: 8_000, ...whole },
          ],
        }),
        layerInput({ uses: [{ how: "per-cup", supplyId: ids.box, amount: 1, ...whole }] }),
      ],
      ...over,
    },
  }
}
