import { Temporal } from "temporal-polyfill"
import { openStudioFile } from "../../db/migrate.ts"
import { BLANKS, GLITTERS, OTHERS, PAINTS, type Thing } from "../../seed/catalogue.ts"
import { layersOf } from "../../seed/plans.ts"
import { coatLayer, startBatch } from "../../server/batches/service.ts"
import { addDesign, designs, plansOf } from "../../server/designs/service.ts"
import { plusDays } from "../../server/domain/dates.ts"
import { needTotals, planNeed } from "../../server/domain/layers.ts"
import { FIRST_SETTINGS, keepSettings, type Studio, settingsOf, todayOf } from "../../server/ledger/studio.ts"
import { addOrder, ordersList } from "../../server/orders/service.ts"
import { receive, startDelivery } from "../../server/receiving/service.ts"
import { addBlank, addPack, addResinSystem, addSeller, addSupply } from "../../server/supplies/service.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"

const CUPS_AN_ORDER = 10
/** Orders are due within so many days. */
const YEAR = 365
/** Every so manieth order has its cups under way. */
const UNDER_WAY = 5
/** The shelf holds this part of all that the orders take. */
const ON_THE_SHELF = 0.8

/** How large; everything grows together. */
export interface Size {
  orders: number
  supplies: number
  lots: number
}

export function busy(times: number): Size {
  return { orders: 500 * times, supplies: 150 * times, lots: 1000 * times }
}

/**
 * A studio with many open orders of ten cups each, a fifth of them under way, and a shelf that does not
 * suffice for all of them. Always the same; made by the services.
 */
export function busyStudio(path: string, times: number): Studio {
  const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
  const studio: Studio = { file: openStudioFile(path), now: () => now }
  studio.file.runText("PRAGMA synchronous = OFF")
  // hands day and night, so that a year's cups can be made in it
  const shop = { opensMin: 0, workMinPerDay: 1440, turners: times, turnerPlaces: 100 }
  keepSettings(studio, { ...FIRST_SETTINGS, timeZone: "America/Chicago", ...shop })
  const catalogue = addCatalogue(studio, times)
  const designIds = addDesigns(studio, catalogue, 40 * times)
  const { orders, lots } = busy(times)
  const designOf = (order: number) => designIds[(order * 7) % designIds.length]!
  const counts = Array.from({ length: orders }, (_, order) => designOf(order))
  receiveLots(studio, catalogue, needsOf(studio, counts), lots)
  const today = todayOf(studio)
  for (const [order, designId] of counts.entries()) {
    const dueOn = plusDays(today, 12 + ((order * 13) % (YEAR - 12)))
    const lines = [{ designId, quantity: CUPS_AN_ORDER, dueOn, note: "" }]
    addOrder(
      studio,
      { device: "bench", key: `order ${order}` },
      { buyerId: null, state: "planned", note: "", lines },
    )
  }
  startSome(studio)
  return studio
}

interface Catalogue {
  /** by the demo's name: several of a sort */
  variants: Map<string, number[]>
  blanks: number[]
  systems: number[]
  /** supplies that are sold together: a kit's two, or one */
  sold: number[][]
}

function addCatalogue(studio: Studio, times: number): Catalogue {
  const variants = new Map<string, number[]>()
  const sold: number[][] = []
  const addThing = (thing: Thing, count: number) => {
    for (let one = 1; one <= count * times; one++) {
      const supplyId = addSupply(
        studio,
        plainSupply(`${thing.name} ${one}`, {
          kind: thing.kind,
          baseUnit: thing.unit,
          shelfLife: thing.shelfMonths === null ? null : { unit: "months", value: thing.shelfMonths },
        }),
      )
      variants.set(thing.name, [...(variants.get(thing.name) ?? []), supplyId])
      sold.push([supplyId])
    }
  }
  for (const paint of PAINTS) addThing(paint, 5)
  for (const glitter of GLITTERS) addThing(glitter, 3)
  for (const other of OTHERS) addThing(other, other.kind === "vinyl" ? 8 : 3)
  const blanks = Array.from({ length: 12 * times }, (_, n) => {
    const { name, rings } = BLANKS[n % BLANKS.length]!
    const supply = plainSupply(`${name} ${n + 1}`)
    return addBlank(studio, { supply, rings, coatsBase: false, bareLipUm: 10_000, bareBaseUm: 3_000 })
  })
  sold.push(...blanks.map((blank) => [blank]))
  const systems = Array.from({ length: 8 * times }, (_, n) => {
    const [partASupplyId, partBSupplyId] = (["resin", "hardener"] as const).map((kind) =>
      addSupply(
        studio,
        plainSupply(`Resin ${n + 1}, ${kind}`, {
          kind,
          shelfLife: { unit: "months", value: 12 },
          openLife: { unit: "months", value: 6 },
        }),
      ),
    ) as [number, number]
    sold.push([partASupplyId, partBSupplyId])
    return addResinSystem(studio, {
      name: `Resin ${n + 1}`,
      partASupplyId,
      partBSupplyId,
      ratioBasis: "volume",
      ratioA: 1,
      ratioB: 1,
      potLifeMin: 40,
      largestMixUl: 400_000,
      mixingMin: 5,
      cupWorkMin: 5,
      recoatEarliestMin: 720,
      recoatLatestMin: 2_880,
      fullCureMin: 4_320,
    })
  })
  return { variants, blanks, systems, sold }
}

/** Designs with the layers of the demo's richest one, each of other supplies. */
function addDesigns(studio: Studio, { variants, blanks, systems }: Catalogue, count: number): number[] {
  return Array.from({ length: count }, (_, n) => {
    const nth = <T>(list: readonly T[]) => list[n % list.length]!
    const layer = layersOf((name) => nth(variants.get(name)!))
    const paint = (place: number) => PAINTS[(n + place) % PAINTS.length]!.name
    const layers = [
      layer.prep,
      layer.base,
      layer.spray(paint(1), paint(4), paint(7)),
      layer.resin("resin", "Glitter coat", nth(systems), 25_000, nth(GLITTERS).name),
      layer.wash,
      layer.vinyl,
      layer.resin("resin", "Seal coat", nth(systems), 25_000),
      layer.resin("final-coat", "Final coat", nth(systems), 32_000),
      layer.pack,
    ]
    const version = { blankSupplyId: nth(blanks), fullCureMin: 4_320, priceMicro: 0, layers }
    return addDesign(studio, { name: `Design ${n + 1}`, version }).designId
  })
}

/** What all orders take, by supply. */
function needsOf(studio: Studio, designIds: readonly number[]): Map<number, number> {
  const versionOf = new Map(designs(studio).map((design) => [design.designId, design.versionId]))
  const plans = plansOf(studio, [...versionOf.values()])
  const measures = settingsOf(studio)
  const needs = new Map<number, number>()
  const ofOne = new Map(
    [...versionOf].map(([designId, versionId]) => [
      designId,
      needTotals(planNeed(plans.get(versionId)!, CUPS_AN_ORDER, measures)),
    ]),
  )
  for (const designId of designIds) {
    for (const [supplyId, amount] of ofOne.get(designId)!)
      needs.set(supplyId, (needs.get(supplyId) ?? 0) + amount)
  }
  return needs
}

/** Receives packs in turn, each with lots of its own, until there are so many lots. */
function receiveLots(
  studio: Studio,
  { sold }: Catalogue,
  needs: ReadonlyMap<number, number>,
  lots: number,
): void {
  const supplies = sold.flat().length
  const sellerId = addSeller(studio, { name: "Everything Ltd", leadTimeDays: 5 })
  const packIds = sold.map((contents, n) =>
    addPack(studio, {
      name: `Pack ${n + 1}`,
      makerId: null,
      codes: [],
      contents: contents.map((supplyId) => ({
        supplyId,
        amount: Math.max(1, Math.round(((needs.get(supplyId) ?? 0) * ON_THE_SHELF * supplies) / lots)),
        containerCount: 1,
      })),
      offers: [{ sellerId, priceMicro: 20_000_000 }],
    }),
  )
  const today = todayOf(studio)
  let left = lots
  for (let round = 0; left > 0; round++) {
    const by = { device: "bench", key: `delivery ${round}` }
    const { deliveryId } = startDelivery(studio, by, {
      sellerId,
      receivedOn: plusDays(today, -30 * round),
      note: "",
    }).answer
    for (const [n, packId] of packIds.entries()) {
      if (left <= 0) break
      const contents = sold[n]!
      receive(
        studio,
        { device: "bench", key: `receive ${round} ${packId}` },
        {
          deliveryId,
          packId,
          count: 1,
          priceMicro: 20_000_000,
          lots: contents.map((supplyId) => ({
            supplyId,
            number: `L${round}`,
            madeOn: null,
            expiresOn: null,
          })),
        },
      )
      left -= contents.length
    }
  }
}

/** Starts the cups of every fifth order and puts one to five layers on them. */
function startSome(studio: Studio): void {
  const versionOf = new Map(designs(studio).map((design) => [design.designId, design.versionId]))
  for (const [n, order] of ordersList(studio, ["planned"]).entries()) {
    if (n % UNDER_WAY !== 0) continue
    const { lineId, designId, quantity } = order.lines[0]!
    const by = (step: string) => ({ device: "bench", key: `${step} ${order.orderId}` })
    const { batchId } = startBatch(studio, by("start"), {
      versionId: versionOf.get(designId)!,
      cups: quantity,
      note: "",
      orderLineId: lineId,
    }).answer
    const layers = 1 + ((n / UNDER_WAY) % 5)
    for (let position = 1; position <= layers; position++)
      coatLayer(studio, by(`coat ${position}`), { batchId, position })
  }
}
