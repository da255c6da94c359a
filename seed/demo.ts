import { Temporal } from "temporal-polyfill"
import type { StudioFile } from "../db/file.ts"
import { coatLayer, finishBatch, startBatch } from "../server/batches/service.ts"
import { addDesign, latestVersionId } from "../server/designs/service.ts"
import { onHand } from "../server/ledger/on-hand.ts"
import { FIRST_SETTINGS, keepSettings, type Studio, settingsOf, todayOf } from "../server/ledger/studio.ts"
import { addBuyer, addOrder, assignCups, ordersList, sendCups } from "../server/orders/service.ts"
import { orderPacks } from "../server/purchasing/service.ts"
import { closeDelivery, receive, startDelivery } from "../server/receiving/service.ts"
import { writeOff } from "../server/shelf/service.ts"
import {
  addBlank,
  addMaker,
  addPack,
  addResinSystem,
  addSeller,
  addSupply,
  keepResinSubstitutes,
  keepSubstitutes,
  packById,
} from "../server/supplies/service.ts"
import {
  BLANKS,
  demoCode,
  demoUpc,
  GLITTERS,
  OTHER_SIZES,
  OTHERS,
  PAINTS,
  SELLERS,
  SUBSTITUTES,
  type Thing,
} from "./catalogue.ts"
import { LOOKED_AFTER, lookAfterBottles } from "./looking-after.ts"
import { lookAtMixes, makeInSteps, putOffcutBy } from "./making.ts"
import { measureBatch } from "./measured.ts"
import { layersOf } from "./plans.ts"

const MONTHS = 18
const CENT = 10_000

/**
 * Fills an empty file with an invented studio: eighteen months of deliveries and some four hundred cups, made by
 * the same services a person uses. Everything but the dates is the same each time.
 */
export function loadDemo(file: StudioFile, now: Temporal.Instant): void {
  // A throwaway file need not survive a power cut while it is being filled.
  file.runText("PRAGMA synchronous = OFF")
  let clock = now
  const studio: Studio = { file, now: () => clock }
  keepSettings(studio, {
    ...FIRST_SETTINGS,
    name: "Tidepool Cups (demo)",
    isDemo: true,
    labourMicroPerHour: 18_000_000,
    turners: 2,
  })
  const shop = stockTheCatalogue(studio)
  const at = (daysAgo: number, hour = 10) => {
    clock = now
      .toZonedDateTimeISO(FIRST_SETTINGS.timeZone)
      .subtract({ days: daysAgo })
      .withPlainTime({ hour: daysAgo === 0 ? 0 : hour })
      .toInstant()
  }
  const buyers = ["Ana Brook", "Cole Fenn", "Mira Holt", "Otis Lark", "Tess Wilder"].map((name) =>
    addBuyer(studio, { name, contact: `${name.split(" ")[0]!.toLowerCase()}@example.com` }),
  )

  for (let month = MONTHS; month >= 1; month -= 1) {
    at(month * 30 + 2, 9)
    deliverMonth(studio, shop, month)
    if (LOOKED_AFTER.includes(month)) lookAfterBottles(studio, month)
    for (const [week, cups] of [6, 5, 6, 6].entries()) {
      at(month * 30 - 6 * week - 1)
      makeBatch(
        studio,
        shop.designs[(month + week) % shop.designs.length]!,
        cups,
        buyers[(month + week) % 5]!,
        month * 4 + week,
        at,
        month * 30 - 6 * week - 1,
      )
    }
  }
  at(1)
  const half = startBatch(studio, key("half"), {
    versionId: latestVersionId(studio, shop.designs[1]!),
    cups: 4,
    note: "",
  })
  const room = { celsiusTenths: 215, humidityPercent: 48 }
  for (const position of [1, 2])
    coatLayer(studio, key(`half-${position}`), { batchId: half.answer.batchId, position, room })
  const [jar, ...others] = onHand(file, FIRST_SETTINGS.timeZone).filter(
    (bottle) => bottle.supply === "Fine silver",
  )
  for (const one of [jar!, ...others]) {
    writeOff(studio, key(`spilled-${one.code}`), {
      code: one.code,
      amount: one === jar ? one.amountLeft - 4_000 : null,
      kind: "waste",
      reason: "Spilled",
      note: "the tray fell off the bench",
    })
  }
  clock = now
  const inDays = (days: number) => Temporal.PlainDate.from(todayOf(studio)).add({ days }).toString()
  addOrder(studio, key("planned-order"), {
    buyerId: buyers[2]!,
    state: "planned",
    note: "",
    lines: [{ designId: shop.designs[0]!, quantity: 24, dueOn: inDays(24), note: "" }],
  })
  addOrder(studio, key("big-order"), {
    buyerId: buyers[0]!,
    state: "draft",
    note: "Team gifts: can it be done?",
    lines: [{ designId: shop.designs[1]!, quantity: 40, dueOn: inDays(30), note: "" }],
  })
  file.runText("PRAGMA synchronous = FULL")
}

const key = (name: string) => ({ device: "demo", key: `demo-${name}` })

interface Shop {
  designs: number[]
  sellers: number[]
  buys: { packId: number; seller: number }[]
}

function stockTheCatalogue(studio: Studio): Shop {
  const makers = ["Clearwell Coatings", "Brightflake", "Plainsteel"].map((name) => addMaker(studio, { name }))
  const sellers = SELLERS.map(({ minimum, shipping, freeFrom, ...seller }) =>
    addSeller(studio, {
      ...seller,
      minimumMicro: minimum === null ? null : minimum * CENT,
      shippingMicro: shipping * CENT,
      freeFromMicro: freeFrom === null ? null : freeFrom * CENT,
    }),
  )
  const ids = new Map<string, number>()
  const buys: Shop["buys"] = []
  let code = 100
  const nextCode = () => demoCode(code++)
  const add = (thing: Thing, density: number | null = null, openMonths = 0) => {
    const supplyId = addSupply(studio, {
      name: thing.name,
      kind: thing.kind,
      baseUnit: thing.unit,
      densityMgPerMl: thing.density ?? density,
      shelfLife:
        thing.shelfMonths === null ? { unit: "never" } : { unit: "months", value: thing.shelfMonths },
      openLife: openMonths === 0 ? null : { unit: "months", value: openMonths },
      leadTimeDays: null,
      minimumAmount: thing.minimum,
      hazards: thing.hazards,
      colour: thing.colour,
      note: "",
      keptBack: thing.keptBack ?? 0,
      sheet: thing.sheet ?? null,
    })
    ids.set(thing.name, supplyId)
    return supplyId
  }
  const sell = (
    name: string,
    contents: { supplyId: number; amount: number }[],
    cents: number,
    maker: number | null,
    seller: number,
    code = nextCode(),
    breaks: readonly (readonly [from: number, cents: number])[] = [],
  ) => {
    const packId = addPack(studio, {
      name,
      makerId: maker,
      codes: [code],
      contents: contents.map((one) => ({ ...one, containerCount: 1 })),
      offers: [
        {
          sellerId: sellers[seller]!,
          priceMicro: cents * CENT,
          breaks: breaks.map(([fromCount, each]) => ({ fromCount, priceMicro: each * CENT })),
        },
      ],
    })
    return { packId, seller: sellers[seller]! }
  }
  /** A pack that is bought every month. */
  const restock = (...pack: Parameters<typeof sell>) => buys.push(sell(...pack))

  const resin = {
    unit: "uL",
    pack: 946_353,
    cents: 0,
    minimum: 400_000,
    shelfMonths: 12,
    colour: null,
  } as const
  const A = ["skin-irritant", "skin-sensitiser", "eye-irritant"]
  const B = ["skin-corrosive", "skin-sensitiser", "harmful-if-swallowed"]
  const part = (name: string, kind: "resin" | "hardener", density: number) =>
    add({ ...resin, name, kind, hazards: kind === "resin" ? A : B }, density, 6)
  const clear = [part("Tumble Clear A", "resin", 1150), part("Tumble Clear B", "hardener", 970)] as const
  const hard = [part("Hard Gloss A", "resin", 1130), part("Hard Gloss B", "hardener", 1010)] as const
  const kit = (name: string, parts: readonly [number, number], a: number, b: number, cents: number) =>
    restock(
      name,
      [
        { supplyId: parts[0], amount: a },
        { supplyId: parts[1], amount: b },
      ],
      cents,
      makers[0]!,
      0,
    )
  kit("Tumble Clear kit, 2 qt", clear, 946_353, 946_353, 7200)
  kit("Tumble Clear kit, 16 oz", clear, 236_588, 236_588, 2600)
  kit("Hard Gloss kit, 1.5 L", hard, 1_000_000, 500_000, 6800)
  const system = {
    potLifeMin: 40,
    largestMixUl: 400_000,
    mixingMin: 5,
    cupWorkMin: 5,
    recoatEarliestMin: 720,
    recoatLatestMin: 2880,
    fullCureMin: 4320,
    maxPigmentPpm: 50_000,
  }
  const systems = [
    addResinSystem(studio, {
      ...system,
      name: "Tumble Clear",
      partASupplyId: clear[0],
      partBSupplyId: clear[1],
      ratioBasis: "volume",
      ratioA: 1,
      ratioB: 1,
    }),
    addResinSystem(studio, {
      ...system,
      name: "Hard Gloss",
      partASupplyId: hard[0],
      partBSupplyId: hard[1],
      ratioBasis: "mass",
      ratioA: 100,
      ratioB: 45,
    }),
  ] as const
  // clear and made for cups as well; the other way round is not said, as a maker may not want it
  keepResinSubstitutes(studio, systems[0], [systems[1]])

  for (const thing of PAINTS)
    restock(
      `${thing.name}, 11 oz can`,
      [{ supplyId: add(thing), amount: thing.pack }],
      thing.cents,
      null,
      1,
      demoUpc(ids.size),
      [[6, thing.cents - 100]],
    )
  for (const thing of GLITTERS)
    restock(
      `${thing.name}, 2 oz jar`,
      [{ supplyId: add(thing), amount: thing.pack }],
      thing.cents,
      makers[1]!,
      0,
    )
  for (const thing of OTHERS)
    restock(`${thing.name}, pack`, [{ supplyId: add(thing), amount: thing.pack }], thing.cents, null, 3)
  const blankIds = BLANKS.map((blank) => {
    const supplyId = addBlank(studio, {
      supply: {
        name: blank.name,
        densityMgPerMl: null,
        shelfLife: { unit: "never" },
        openLife: null,
        leadTimeDays: null,
        minimumAmount: 4,
        hazards: [],
        colour: null,
        note: "",
      },
      rings: [...blank.rings],
      bareLipUm: 10_000,
      bareBaseUm: 3_000,
      coatsBase: false,
    })
    restock(
      `${blank.name}s, carton of 12`,
      [{ supplyId, amount: 12 }],
      blank.cents,
      makers[2]!,
      2,
      nextCode(),
      [[3, blank.cents - 500]],
    )
    return supplyId
  })
  for (const { thing, insteadOf } of SUBSTITUTES) {
    const supplyId = add(thing)
    restock(`${thing.name}, pack`, [{ supplyId, amount: thing.pack }], thing.cents, null, 3)
    keepSubstitutes(studio, ids.get(insteadOf)!, [{ supplyId, ratioPpm: 1_000_000 }])
  }
  for (const { of, name, amount, cents, seller } of OTHER_SIZES)
    sell(name, [{ supplyId: ids.get(of)!, amount }], cents, null, seller)

  const layer = layersOf((name) => ids.get(name)!)
  const seal = (name: string, glitter?: string) => layer.resin("resin", name, systems[0], 25_000, glitter)
  const last = layer.resin("final-coat", "Final coat", systems[0], 32_000)
  const plans: [string, number, number, ReturnType<typeof layersOf>["prep"][]][] = [
    [
      "Harbour night",
      0,
      5800,
      [
        layer.prep,
        layer.base,
        layer.fade(["Harbour blue", 0.5], ["Slate", 0.4], ["Mint", 0.25]),
        layer.copperFoot,
        seal("Glitter coat", "Lagoon mix"),
        layer.wash,
        layer.vinyl,
        layer.patternBand,
        seal("Seal coat"),
        last,
        layer.pack,
      ],
    ],
    [
      "Sea glass",
      1,
      4600,
      [
        layer.prep,
        layer.base,
        layer.spray("Mint", "Harbour blue"),
        seal("Seal coat", "Holo white"),
        last,
        layer.pack,
      ],
    ],
    [
      "Copper dusk",
      2,
      4900,
      [
        layer.prep,
        layer.base,
        layer.spray("Copper shine", "Plum"),
        seal("Seal coat", "Ember mix"),
        last,
        layer.pack,
      ],
    ],
    ["Plain name cup", 0, 3900, [layer.prep, layer.base, layer.spray("Sand"), layer.vinyl, last, layer.pack]],
    [
      "Big adventure",
      3,
      6900,
      [
        layer.prep,
        layer.base,
        layer.spray("Moss", "Brick", "Lemon peel"),
        layer.resin("resin", "Hard seal", systems[1], 40_000, "Fine gold"),
        layer.resin("final-coat", "Hard final", systems[1], 48_000),
        layer.pack,
      ],
    ],
  ]
  const designs = plans.map(
    ([name, blank, cents, layers]) =>
      addDesign(studio, {
        name,
        version: { blankSupplyId: blankIds[blank]!, fullCureMin: 4320, priceMicro: cents * CENT, layers },
      }).designId,
  )
  return { designs, sellers, buys }
}

/** What comes in a month, one delivery a seller: whatever has run below two packs is brought up to that again. */
function deliverMonth(studio: Studio, shop: Shop, month: number): void {
  const receivedOn = todayOf(studio)
  const usable = new Map<number, number>()
  for (const bottle of onHand(studio.file, settingsOf(studio).timeZone)) {
    if (bottle.useBy !== null && bottle.useBy < receivedOn) continue
    usable.set(bottle.supplyId, (usable.get(bottle.supplyId) ?? 0) + bottle.amountLeft)
  }
  for (const sellerId of shop.sellers) {
    const buys = shop.buys
      .filter((buy) => buy.seller === sellerId)
      .map(({ packId }) => {
        const pack = packById(studio, packId)
        const { supplyId, amount } = pack.contents[0]!
        return { pack, count: Math.ceil(2 - (usable.get(supplyId) ?? 0) / amount) }
      })
      .filter((buy) => buy.count > 0)
    if (buys.length === 0) continue
    const ordered = dayBefore(receivedOn, daysOnTheWay(month, shop.sellers.indexOf(sellerId)))
    for (const { pack, count } of buys) {
      orderPacks(studio, key(`order-${month}-${pack.id}`), {
        sellerId,
        packId: pack.id,
        count,
        orderedOn: ordered,
        expectedOn: receivedOn,
      })
    }
    const begun = key(`begin-${month}-${sellerId}`)
    const { deliveryId } = startDelivery(studio, begun, { sellerId, receivedOn, note: "" }).answer
    for (const { pack, count } of buys) {
      receive(studio, key(`receive-${month}-${pack.id}`), {
        deliveryId,
        packId: pack.id,
        count,
        priceMicro: pack.offers[0]!.priceMicro,
        lots: pack.contents.map(({ supplyId }) => ({
          supplyId,
          number: `L${String(MONTHS - month + 1).padStart(2, "0")}-${pack.id}`,
          madeOn: null,
          expiresOn: null,
        })),
      })
    }
    closeDelivery(studio, key(`close-${month}-${sellerId}`), deliveryId)
  }
}

/** From order to door: about what the seller says, now and then days later. */
function daysOnTheWay(month: number, seller: number): number {
  return Math.max(1, SELLERS[seller]!.leadTimeDays + LATE_BY[(month + 3 * seller) % LATE_BY.length]!)
}

const LATE_BY = [0, 1, 0, -1, 0, 2, 1, 0, 4, -1]

function dayBefore(date: string, days: number): string {
  return Temporal.PlainDate.from(date).subtract({ days }).toString()
}

/** Of the last month's batches one that is followed coat by coat, and one that leaves an offcut. */
const MADE_IN_STEPS = 5
const OFFCUT_LEFT = 6
/** Every second batch of the last two months was made for nobody yet: its cups stand finished on the shelf. */
const LAST_FOR_STOCK = 8

/** A batch started and, some days later, finished; one cup in thirty does not come out; the good ones are sold. */
function makeBatch(
  studio: Studio,
  designId: number,
  cups: number,
  buyerId: number,
  n: number,
  at: (daysAgo: number, hour?: number) => void,
  daysAgo: number,
): void {
  const started = startBatch(studio, key(`start-${n}`), {
    versionId: latestVersionId(studio, designId),
    cups,
    note: "",
  }).answer
  const scrapped =
    n % 6 === 0 ? [{ cupId: started.cups[0]!.id, outcome: "scrapped" as const, afterLayer: 4 }] : []
  const by = (what: string) => key(`made-${n}-${what}`)
  const passDays = (days: number, hour: number) => at(daysAgo - days, hour)
  if (n === MADE_IN_STEPS) makeInSteps(studio, by, started.batchId, passDays)
  at(Math.max(daysAgo - 4, 1), 15)
  finishBatch(studio, key(`finish-${n}`), { batchId: started.batchId, exceptions: scrapped })
  if (n % 3 === 0) measureBatch(studio, (what) => key(`measured-${what}`), started.batchId, n)
  if (n === MADE_IN_STEPS) lookAtMixes(studio, by, started.batchId, passDays)
  if (n === OFFCUT_LEFT) putOffcutBy(studio, by)
  if (n % 2 === 0 && n <= LAST_FOR_STOCK) return
  const good = started.cups.slice(scrapped.length).map((cup) => cup.id)
  const { orderId } = addOrder(studio, key(`order-${n}`), {
    buyerId,
    state: "planned",
    note: "",
    lines: [{ designId, quantity: good.length, dueOn: todayOf(studio), note: "" }],
  }).answer
  const line = ordersList(studio).find((order) => order.orderId === orderId)!.lines[0]!
  assignCups(studio, key(`assign-${n}`), { orderLineId: line.lineId, cupIds: good })
  sendCups(studio, key(`send-${n}`), good)
}
