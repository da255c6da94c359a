import { act } from "../../server/ledger/act.ts"
import { addCoat, startBatch } from "../../server/ledger/cups.ts"
import { move } from "../../server/ledger/move.ts"
import { bareDesign, receiveOne, supplyRow } from "./catalogue.ts"
import { someone, testStudio } from "./studio.ts"

/** Two cups coated from one mix of A and B. */
export function twoCupsOfOneMix() {
  const studio = testStudio()
  const a = supplyRow(studio, { name: "Part A" })
  const b = supplyRow(studio, { name: "Part B", kind: "hardener" })
  const resinSystemId = studio.file.insert("resin_system", {
    name: "Clear 1:1",
    part_a_supply_id: a,
    part_b_supply_id: b,
    ratio_basis: "volume",
    ratio_a: 1,
    ratio_b: 1,
    pot_life_min: 40,
    largest_mix_ul: 200_000,
    mixing_min: 5,
    cup_work_min: 8,
    recoat_earliest_min: 360,
    recoat_latest_min: null,
    full_cure_min: 4_320,
  })
  const bottles = receiveOne(studio, [a, b], "L1")
  const { versionId, layerIds } = bareDesign(studio, 1)
  studio.file.insert("layer_use", {
    layer_id: layerIds[0]!,
    position: 1,
    how: "resin-mixed",
    resin_system_id: resinSystemId,
    amount: 26_000,
    residue_ul: 2_000,
  })
  const batch = act(studio, "start", someone(), {}, (now) => ({
    summary: "Started 2 cups",
    answer: startBatch(now, { versionId, cups: 2, note: "" }),
  })).answer
  const coat = act(studio, "coat", someone(), {}, (now) => {
    const parts = { plannedA: 25_000, plannedB: 25_000, actualA: 25_000, actualB: 25_000, residueUl: 2_000 }
    const cupIds = batch.cups.map((cup) => cup.id)
    const mix = { resinSystemId, ...parts }
    const facts = {
      batchId: batch.batchId,
      layerId: layerIds[0]!,
      cupIds,
      workings: [],
      insisted: false,
      mix,
    }
    const coatId = addCoat(now, facts)
    for (const { id } of bottles) move(now, id, -25_000, { kind: "use", basis: "planned", coatId })
    return { summary: "Coated 2 cups", answer: null }
  })
  const code = studio.file.firstText<{ code: string }>("SELECT code FROM mix")!.code
  return { studio, batch, bottles, code, coat }
}
