import type { LayerInput, UseInput } from "../server/designs/service.ts"

const WHOLE = 1_000_000

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
    spray: (...colours: string[]) =>
      layer(
        "spray",
        "Colours",
        [15, 0, 720],
        colours.map((name) => use("per-cup", name, 12_000, Math.round(WHOLE / colours.length))),
      ),
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
          marginUm: 0,
          gapUm: 0,
          mayTurn: true,
          reprintPpm: 0,
        },
      ],
    ),
    pack: layer(
      "counted",
      "Lid, straw, box, card",
      [5, 0, 0],
      ["Sliding lids", "Straws", "Gift boxes", "Care cards"].map((name) => use("per-cup", name, 1)),
    ),
  }
}
