import { finishBatch, startBatch } from "../../server/batches/service.ts"
import { addDesign, type LayerInput } from "../../server/designs/service.ts"
import type { Studio } from "../../server/ledger/studio.ts"
import { receiveOpening } from "../../server/receiving/service.ts"
import {
  addBlank,
  addPack,
  addResinSystem,
  addSeller,
  addSupply,
  type ResinSystemInput,
  resinSystemById,
} from "../../server/supplies/service.ts"
import { plainSupply } from "./receiving-fixtures.ts"
import { someone } from "./studio.ts"

const layer = (more: Partial<LayerInput>): LayerInput => ({
  kind: "counted",
  name: "Layer",
  handsOnMin: 10,
  turnerMin: 0,
  recoatEarliestMin: 0,
  recoatLatestMin: null,
  band: null,
  uses: [],
  ...more,
})

/**
 * A studio in which 40 cups of `planningStudio` go through together: ten minutes each in a day from 8 to 18 o'clock,
 * a place on a turner for each; nothing is ready before it must be.
 */
export const ROOMY = { turners: 10, turnerPlaces: 4, opensMin: 480, workMinPerDay: 600, spareDays: 0 }

/**
 * What planning needs: a design of one resin coat (20 mL applied a cup, no losses) and a lid, a week's shelf and
 * two sellers. A day of turning, three of cure.
 */
export function planningStudio(studio: Studio) {
  const ids = {
    partA: addSupply(studio, plainSupply("Clear A", { kind: "resin" })),
    partB: addSupply(studio, plainSupply("Clear B", { kind: "hardener" })),
    lid: addSupply(studio, plainSupply("Lids <b>wide</b>", { kind: "packaging", baseUnit: "each" })),
    blank: addBlank(studio, {
      supply: plainSupply("Slim blank"),
      rings: [
        { heightUm: 0, diameterUm: 70_000 },
        { heightUm: 240_000, diameterUm: 76_000 },
      ],
      bareLipUm: 10_000,
      bareBaseUm: 3_000,
      coatsBase: false,
    }),
  }
  const systemId = addResinSystem(studio, {
    name: "Clear",
    partASupplyId: ids.partA,
    partBSupplyId: ids.partB,
    ratioBasis: "volume",
    ratioA: 1,
    ratioB: 1,
    potLifeMin: 45,
    largestMixUl: 500_000,
    mixingMin: 5,
    cupWorkMin: 10,
    recoatEarliestMin: 480,
    recoatLatestMin: null,
    fullCureMin: 4_320,
  })
  const { designId, versionId } = addDesign(studio, {
    name: "Sea glass",
    version: {
      blankSupplyId: ids.blank,
      fullCureMin: 4_320,
      priceMicro: 40_000_000,
      layers: [
        layer({
          kind: "resin",
          name: "Resin coat",
          turnerMin: 1_440,
          recoatEarliestMin: 480,
          uses: [
            {
              how: "resin-applied",
              resinSystemId: systemId,
              amount: 20_000,
              sharePpm: 1_000_000,
              dripPpm: 0,
              residueUl: 0,
            },
          ],
        }),
        layer({
          name: "Lid on",
          uses: [
            {
              how: "per-cup",
              supplyId: ids.lid,
              amount: 1,
              sharePpm: 1_000_000,
            },
          ],
        }),
      ],
    },
  })
  const near = addSeller(studio, { name: "Near & Co", leadTimeDays: 2 })
  const far = addSeller(studio, { name: "Far away", leadTimeDays: 10 })
  const packs = {
    kit: addPack(studio, {
      name: "Clear kit",
      makerId: null,
      codes: [],
      contents: [ids.partA, ids.partB].map((supplyId) => ({ supplyId, amount: 473_000, containerCount: 1 })),
      offers: [{ sellerId: near, priceMicro: 60_000_000 }],
    }),
    lids: addPack(studio, {
      name: "Lids, bag of 12",
      makerId: null,
      codes: [],
      contents: [{ supplyId: ids.lid, amount: 12, containerCount: 1 }],
      offers: [
        { sellerId: near, priceMicro: 9_000_000 },
        { sellerId: far, priceMicro: 6_000_000 },
      ],
    }),
  }
  return { ids, systemId, designId, versionId, near, far, packs }
}

/** Another resin as one that is there, 3 : 1 by volume, with parts of its own; nothing of it is on the shelf. */
export function otherResin(studio: Studio, systemId: number, over: Partial<ResinSystemInput> = {}) {
  const { name = "Slow Clear" } = over
  const part = (which: "A" | "B", kind: "resin" | "hardener") =>
    addSupply(studio, plainSupply(`${name} ${which}`, { kind, densityMgPerMl: 1_100 }))
  const [partA, partB] = [part("A", "resin"), part("B", "hardener")]
  const { partA: _a, partB: _b, ...own } = resinSystemById(studio, systemId)
  const other = { ...own, name, partASupplyId: partA, partBSupplyId: partB, ratioA: 3, ratioB: 1, ...over }
  return { systemId: addResinSystem(studio, other), partA, partB }
}

/** Puts a full container on the shelf, as on the first day. */
export function stock(
  studio: Studio,
  supplyId: number,
  amount: number,
  expiresOn: string | null = null,
): void {
  receiveOpening(studio, someone(), { supplyId, fullAmount: amount, amount, opened: false, expiresOn })
}

/** So many finished cups of a version, for nobody. */
export function finished(studio: Studio, versionId: number, cups: number): number[] {
  const started = startBatch(studio, someone(), { versionId, cups, note: "" })
  finishBatch(studio, someone(), { batchId: started.answer.batchId, exceptions: [] })
  return started.answer.cups.map((cup) => cup.id)
}
