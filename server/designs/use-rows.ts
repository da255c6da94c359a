import type { Insertable, Selectable } from "kysely"
import type { Tables } from "../../db/tables.ts"
import type { PieceUse } from "../domain/plan.ts"
import type { UseInput } from "./inputs.ts"

/** A use as it is kept: which columns it fills. */
export function useRow(use: UseInput): Omit<Insertable<Tables["layer_use"]>, "id" | "layer_id" | "position"> {
  switch (use.how) {
    case "resin-film":
    case "resin-mixed":
    case "resin-applied":
      return {
        how: use.how,
        supply_id: null,
        resin_system_id: use.resinSystemId,
        amount: use.amount,
        share_ppm: use.sharePpm,
        drip_ppm: use.dripPpm,
        residue_ul: use.residueUl,
      }
    case "per-cup":
    case "per-area":
    case "sprinkled":
    case "per-resin":
    case "per-mix":
    case "per-batch":
    case "per-session":
      return {
        how: use.how,
        supply_id: use.supplyId,
        resin_system_id: null,
        amount: use.amount,
        share_ppm: use.sharePpm,
      }
    case "spray-film":
      return {
        how: use.how,
        supply_id: use.supplyId,
        resin_system_id: null,
        amount: use.dryUm,
        share_ppm: use.sharePpm,
        passes: use.passes,
        solids_ppm: use.solidsPpm,
        transfer_ppm: use.transferPpm,
      }
    case "piece":
      return {
        how: use.how,
        supply_id: use.supplyId,
        resin_system_id: null,
        amount: 0,
        wrap: use.cut.shape,
        width_um: use.cut.shape === "flat" ? use.cut.widthUm : null,
        height_um: use.cut.shape === "flat" ? use.cut.heightUm : null,
        overlap_um: use.cut.shape === "wrap" ? use.cut.overlapUm : null,
        margin_um: use.marginUm,
        gap_um: use.gapUm,
        may_turn: use.mayTurn ? 1 : 0,
        reprint_ppm: use.reprintPpm,
      }
  }
}

/** The use that a kept row is. The file's own rules fill the columns that each way needs. */
export function useOf(row: Selectable<Tables["layer_use"]>): UseInput {
  switch (row.how) {
    case "resin-film":
    case "resin-mixed":
    case "resin-applied":
      return {
        how: row.how,
        resinSystemId: row.resin_system_id!,
        amount: row.amount,
        sharePpm: row.share_ppm,
        dripPpm: row.drip_ppm,
        residueUl: row.residue_ul,
      }
    case "per-cup":
    case "per-area":
    case "sprinkled":
    case "per-resin":
    case "per-mix":
    case "per-batch":
    case "per-session":
      return { how: row.how, supplyId: row.supply_id!, amount: row.amount, sharePpm: row.share_ppm }
    case "spray-film":
      return {
        how: row.how,
        supplyId: row.supply_id!,
        dryUm: row.amount,
        passes: row.passes!,
        solidsPpm: row.solids_ppm!,
        transferPpm: row.transfer_ppm!,
        sharePpm: row.share_ppm,
      }
    case "piece":
      return {
        how: row.how,
        supplyId: row.supply_id!,
        cut: cutOf(row),
        marginUm: row.margin_um!,
        gapUm: row.gap_um!,
        mayTurn: row.may_turn === 1,
        reprintPpm: row.reprint_ppm!,
      }
  }
}

function cutOf(row: Selectable<Tables["layer_use"]>): PieceUse["cut"] {
  return row.wrap === "wrap"
    ? { shape: "wrap", overlapUm: row.overlap_um! }
    : { shape: "flat", widthUm: row.width_um!, heightUm: row.height_um! }
}
