import type { LayerInput, UseInput } from "../server/designs/service.ts"
import { USUAL_TRANSFER_PPM } from "../server/domain/sprays.ts"

const WHOLE = 1_000_000
const ON_SHEET = { marginUm: 5_000, gapUm: 2_000 }

/** Builds layers by the names of supplies. */
export function layersOf(id: (name: string) => number) {
  const use = (
    how: "per-cup" | "per-batch" | "per-mix" | "per-resin",
    name: string,
    amount: number,
    sharePpm = WHOLE,
  ): UseInput => ({
    how,
    supplyId: id(name),
    amount,
    sharePpm,
  })
  const layer = (
    kind: LayerInput["kind"],
    name: string,
    times: readonly [number, number, number],
    uses: UseInput[],
  ): LayerInput => ({
    kind,
    name,
    handsOnMin: times[0],
    turnerMin: times[1],
    recoatEarliestMin: times[2],
    recoatLatestMin: null,
    band: null,
    uses,
  })
  const fade = (...colours: (readonly [name: string, share: number])[]) =>
    layer(
      "spray",
      "Colours",
      [15, 0, 720],
      colours.map(([name, share]) => use("per-cup", name, 12_000, Math.round(WHOLE * share))),
    )
  return {
    prep: layer(
      "prep",
      "Scuff and wipe",
      [10, 0, 5],
      [
        use("per-cup", "Alcohol 99 %", 5_000),
        use("per-cup", "Lint-free wipes", 1),
        use("per-batch", "Nitrile gloves", 2),
      ],
    ),
    base: layer("base-coat", "White base", [5, 0, 60], [use("per-cup", "White primer", 9_000)]),
    spray: (...colours: string[]) => fade(...colours.map((name) => [name, 1 / colours.length] as const)),
    fade,
    /** The lower third in copper, by the paint's data sheet: two passes of 12 µm. */
    copperFoot: {
      ...layer(
        "spray",
        "Copper foot",
        [5, 0, 720],
        [
          {
            how: "spray-film",
            supplyId: id("Copper shine"),
            dryUm: 12,
            passes: 2,
            solidsPpm: 120_000,
            transferPpm: USUAL_TRANSFER_PPM,
            sharePpm: WHOLE,
          },
        ],
      ),
      band: { fromUm: 0, toUm: 80_000 },
    },
    /** Common practice, no source: a thin seal coat on a slim 30 oz takes about 25 mL mixed. */
    resin: (
      kind: "resin" | "final-coat",
      name: string,
      resinSystemId: number,
      mixedUl: number,
      glitter?: string,
    ) =>
      layer(
        kind,
        name,
        [12, 360, 720],
        [
          {
            how: "resin-mixed",
            resinSystemId,
            amount: mixedUl,
            sharePpm: WHOLE,
            dripPpm: 250_000,
            residueUl: 1_500,
          },
          ...(glitter ? [use("per-cup", glitter, 6_000)] : []),
          use("per-mix", "Mixing cups", 1),
          use("per-batch", "Nitrile gloves", 2),
        ],
      ),
    wash: layer(
      "wash-off",
      "Resist, outer paint, wash off",
      [25, 0, 240],
      [
        use("per-cup", "Soap resist", 8_000),
        use("per-cup", "Night black", 7_000),
        use("per-cup", "Acetone", 10_000),
        use("per-cup", "Lint-free wipes", 3),
      ],
    ),
    vinyl: layer(
      "vinyl",
      "Cut vinyl",
      [12, 0, 0],
      [
        {
          how: "piece",
          supplyId: id("Black vinyl sheet"),
          cut: { shape: "flat", widthUm: 90_000, heightUm: 60_000 },
          ...ON_SHEET,
          mayTurn: true,
          reprintPpm: 0,
        },
      ],
    ),
    /** A band of pattern once around, its ends overlapping; one print in twenty comes out wrong. */
    patternBand: {
      ...layer(
        "vinyl",
        "Pattern band",
        [10, 0, 0],
        [
          {
            how: "piece",
            supplyId: id("Patterned vinyl sheet"),
            cut: { shape: "wrap", overlapUm: 3_000 },
            ...ON_SHEET,
            mayTurn: false,
            reprintPpm: 50_000,
          },
        ],
      ),
      band: { fromUm: 150_000, toUm: 190_000 },
    },
    pack: layer(
      "counted",
      "Lid, straw, box, card",
      [5, 0, 0],
      ["Sliding lids", "Straws", "Gift boxes", "Care cards"].map((name) => use("per-cup", name, 1)),
    ),
  }
}
