import { addDesign, type LayerInput, type UseInput } from "../../../server/designs/service.ts"
import { startDelivery } from "../../../server/receiving/service.ts"
import {
  addBlank,
  addMaker,
  addPack,
  addResinSystem,
  addSeller,
  addSupply,
} from "../../../server/supplies/service.ts"
import { plainSupply } from "../../support/receiving-fixtures.ts"
import { someone, type TestStudio, testStudio } from "../../support/studio.ts"
import { Book, daysAfter, type SupplyFacts } from "./book.ts"
import type { Sent } from "./step.ts"

/** How a pack is sold in the model: what is inside, and an odd price, so that costs do not come out even. */
export interface PackFacts {
  id: number
  name: string
  contents: readonly { supplyId: number; amount: number; count: number }[]
  priceMicro: number
}

/** The program under test with a small catalogue, and the oracle beside it. */
export interface Shop {
  studio: TestStudio
  book: Book
  /** whether the two are compared after every step */
  comparing: boolean
  packs: readonly PackFacts[]
  designId: number
  versionId: number
  /** what each layer takes of each supply for one cup, first layer first */
  perCup: readonly ReadonlyMap<number, number>[]
  /** supplies counted by the piece: a cup has whole ones */
  pieces: ReadonlySet<number>
  today(): string
  /** the delivery of that day */
  deliveryOf(day: string): number
  passDays(days: number): void
  /** what was asked so far, in words */
  told: string[]
  /** forms that were carried out */
  sent: Sent[]
  /** a key nobody has used, or the one whose form was refused */
  freshKey(): string
  keyWasNotUsed(): void
}

/** No change to summer time, so noon is at 19:00 UTC all year. */
const TIME_ZONE = "America/Phoenix"
const NOON = "T19:00:00.000Z"

/** When a thing done now is recorded as having happened. */
export const nowOn = (day: string): string => `${day}${NOON}`

/**
 * A design of three layers: paint with the blank; resin, at most two cups a mix; a lid. Small packs, so that a few
 * cups empty them, and short lives, so that a few days end them.
 */
export function openShop(comparing: boolean): Shop {
  const studio = testStudio({ timeZone: TIME_ZONE, volumeStepUl: 500 })
  const supplies: SupplyFacts[] = []
  const add = (name: string, id: number, shelfDays: number | null, openDays: number | null) => {
    supplies.push({ id, name, shelfDays, openDays })
    return id
  }
  const lives = (shelfDays: number | null, openDays: number | null) => ({
    shelfLife:
      shelfDays === null ? ({ unit: "never" } as const) : ({ unit: "days", value: shelfDays } as const),
    openLife: openDays === null ? null : ({ unit: "days", value: openDays } as const),
  })
  const paint = add("Paint", addSupply(studio, plainSupply("Paint", lives(60, 20))), 60, 20)
  const partA = add(
    "Part A",
    addSupply(studio, plainSupply("Part A", { kind: "resin", ...lives(90, 30) })),
    90,
    30,
  )
  const partB = add(
    "Part B",
    addSupply(studio, plainSupply("Part B", { kind: "hardener", ...lives(45, null) })),
    45,
    null,
  )
  const each = { baseUnit: "each", ...lives(null, null) } as const
  const lid = add("Lid", addSupply(studio, plainSupply("Lid", { kind: "packaging", ...each })), null, null)
  const rings = [
    { heightUm: 0, diameterUm: 70_000 },
    { heightUm: 200_000, diameterUm: 70_000 },
  ]
  const blankInput = {
    supply: plainSupply("Blank", each),
    rings,
    bareLipUm: 10_000,
    bareBaseUm: 3_000,
    coatsBase: false,
  }
  const blank = add("Blank", addBlank(studio, blankInput), null, null)

  const design = addClearDesign(studio, { paint, partA, partB, lid, blank })
  const makerId = addMaker(studio, { name: "Resin works" })
  const pack = (
    name: string,
    priceMicro: number,
    contents: PackFacts["contents"],
    maker: number | null = null,
  ) => ({
    id: addPack(studio, {
      name,
      makerId: maker,
      codes: [],
      contents: contents.map(({ supplyId, amount, count }) => ({ supplyId, amount, containerCount: count })),
      offers: [],
    }),
    name,
    contents,
    priceMicro,
  })
  const packs = [
    pack(
      "Kit",
      20_000_003,
      [partA, partB].map((supplyId) => ({ supplyId, amount: 50_000, count: 1 })),
      makerId,
    ),
    pack("Can", 7_990_001, [{ supplyId: paint, amount: 30_011, count: 1 }]),
    pack("Two cans", 14_000_001, [{ supplyId: paint, amount: 20_000, count: 2 }]),
    pack("Carton", 33_330_001, [{ supplyId: blank, amount: 6, count: 1 }]),
    pack("Bag", 1_000_003, [{ supplyId: lid, amount: 5, count: 1 }]),
  ]

  const sellerId = addSeller(studio, { name: "Seller", leadTimeDays: 3 })
  const deliveries = new Map<string, number>()
  let keys = 0
  const today = () => studio.now().toZonedDateTimeISO(TIME_ZONE).toPlainDate().toString()
  return {
    studio,
    book: new Book(supplies),
    comparing,
    packs,
    ...design,
    perCup: [
      new Map([
        [blank, 1],
        [paint, PAINT_UL],
      ]),
      new Map([
        [partA, MIXED_UL / 2],
        [partB, MIXED_UL / 2],
      ]),
      new Map([[lid, 1]]),
    ],
    pieces: new Set([blank, lid]),
    today,
    deliveryOf(day) {
      const begin = () => startDelivery(studio, someone(), { sellerId, receivedOn: day, note: "" })
      const id = deliveries.get(day) ?? begin().answer.deliveryId
      deliveries.set(day, id)
      return id
    },
    passDays: (days) => studio.setNow(daysAfter(today(), days)),
    told: [],
    sent: [],
    freshKey: () => `form-${++keys}`,
    keyWasNotUsed: () => {
      keys -= 1
    },
  }
}

const PAINT_UL = 7_001
const MIXED_UL = 25_000

function addClearDesign(
  studio: TestStudio,
  ids: { paint: number; partA: number; partB: number; lid: number; blank: number },
): { designId: number; versionId: number } {
  const resinSystemId = addResinSystem(studio, {
    name: "Clear",
    partASupplyId: ids.partA,
    partBSupplyId: ids.partB,
    ratioBasis: "volume",
    ratioA: 1,
    ratioB: 1,
    potLifeMin: 45,
    largestMixUl: 2 * MIXED_UL,
    mixingMin: 5,
    cupWorkMin: 10,
    recoatEarliestMin: 480,
    recoatLatestMin: null,
    fullCureMin: 4_320,
  })
  const perCup = (supplyId: number, amount: number): UseInput => ({
    how: "per-cup",
    supplyId,
    amount,
    sharePpm: 1_000_000,
  })
  const layer = (kind: LayerInput["kind"], name: string, use: UseInput): LayerInput => ({
    kind,
    name,
    handsOnMin: 10,
    turnerMin: 0,
    recoatEarliestMin: 0,
    recoatLatestMin: null,
    band: null,
    uses: [use],
  })
  return addDesign(studio, {
    name: "Sea glass",
    version: {
      blankSupplyId: ids.blank,
      fullCureMin: 4_320,
      priceMicro: 40_000_000,
      layers: [
        layer("base-coat", "Base coat", perCup(ids.paint, PAINT_UL)),
        layer("resin", "Resin", {
          how: "resin-mixed",
          resinSystemId,
          amount: MIXED_UL,
          sharePpm: 1_000_000,
          dripPpm: 0,
          residueUl: 0,
        }),
        layer("counted", "Lid", perCup(ids.lid, 1)),
      ],
    },
  })
}
