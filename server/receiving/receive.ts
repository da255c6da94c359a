import { apportion } from "../domain/apportion.ts"
import { type IsoDate, sayDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done, nextId } from "../ledger/act.ts"
import { fillContainer } from "../ledger/fill.ts"
import type { Studio } from "../ledger/studio.ts"
import { keepFullWeight } from "../shelf/service.ts"
import { type PackInfo, packById } from "../supplies/service.ts"
import { partsFor } from "./awaited.ts"
import { type Delivery, deliveryById } from "./deliveries.ts"
import { type LabelledLot, receivedLot } from "./lots.ts"
import { keepPhotos } from "./photos.ts"
import { noteProblems, replaced } from "./problems.ts"

/** One line of a delivery, as it is confirmed. */
export interface ReceiveInput {
  deliveryId: number
  packId: number
  /** what was ordered; left out: the oldest open purchase of that pack; null: none */
  purchaseId?: number | null | undefined
  /** packs */
  count: number
  /** of one pack */
  priceMicro: number
  /** one for each supply of the pack; both halves of a kit may carry the same number */
  lots: readonly LabelledLot[]
  /** printed on this one pack alone */
  serial?: string | null | undefined
  /** the purchase of another pack, in whose place this one came */
  insteadOf?: number | null | undefined
  /** it leaked on the way: so much of each container is left, in millionths of a full one */
  leftPpm?: number | null | undefined
  /** what the scale reads with the one container that came, full */
  grossMg?: number | null | undefined
  /** photos of its label */
  photoIds?: readonly number[] | undefined
}

/** What came of it. */
export interface Received {
  lineId: number
  containers: { id: number; code: string; supply: string }[]
  /** packs beyond what was ordered */
  over: number
}

const MOST_PACKS = 1000
const MOST_CONTAINERS = 2000
const MOST_MICRO = 1e15

/**
 * Takes so many of a pack in: its lots, and each bottle, can, jar or carton with a code of its own. The
 * containers of one kit unit share a number, so that A and B are used together. The price of each pack is shared
 * out over its containers without a remainder: by amount where all are measured in one unit, else evenly.
 *
 * @throws {Refusal} a closed delivery; a count, price, lot or date that cannot be; a purchase of another pack
 */
export function receive(studio: Studio, by: Actor, input: ReceiveInput): Done<Received> {
  return act(studio, "receive", by, input, (now) => {
    const delivery = deliveryById(studio, input.deliveryId)
    const pack = packById(studio, input.packId)
    refuseUnlikely(delivery, pack, input)

    const goneOffBefore: IsoDate[] = []
    const lotOfSupply = new Map<number, number>()
    input.lots.forEach((label, index) => {
      const content = contentOf(pack, label.supplyId, index)
      const { lotId, expiresOn } = receivedLot(now, label, {
        supply: content.supply,
        makerId: pack.makerId,
        shelfLife: content.shelfLife,
        receivedOn: delivery.receivedOn,
        field: `lots[${index}]`,
      })
      lotOfSupply.set(label.supplyId, lotId)
      if (expiresOn !== null && expiresOn < delivery.receivedOn) goneOffBefore.push(expiresOn)
    })

    const came = { ...input, sellerId: delivery.sellerId }
    const { parts, over } =
      input.insteadOf == null
        ? partsFor(now, came, input.purchaseId)
        : { parts: [{ purchaseId: replaced(now, input.insteadOf, pack.id), count: input.count }], over: 0 }
    const lineIds: number[] = []
    const containers: Received["containers"] = []
    for (const { purchaseId, count } of parts) {
      const lineId = now.file.insert("receipt_line", {
        delivery_id: delivery.id,
        action_id: now.actionId,
        pack_id: pack.id,
        purchase_id: purchaseId,
        count,
        price_micro: input.priceMicro,
        serial: input.serial ?? null,
      })
      lineIds.push(lineId)
      for (let unit = 0; unit < count; unit++)
        containers.push(...fillPack(now, pack, { lineId, lotOfSupply, ...input }))
      noteProblems(now, { ...input, lineId, purchaseId, count })
    }
    if (input.grossMg != null) weigh(now, containers, input.grossMg)
    keepPhotos(now, [...lotOfSupply.values()], input.photoIds ?? [])
    return {
      summary: summaryOf(pack, input, goneOffBefore, delivery.receivedOn),
      answer: { lineId: lineIds[0]!, containers, over },
    }
  })
}

/** The containers of one pack, each with its part of the price. */
function fillPack(
  now: Act,
  pack: PackInfo,
  line: {
    lineId: number
    priceMicro: number
    lotOfSupply: ReadonlyMap<number, number>
    leftPpm?: number | null | undefined
  },
): Received["containers"] {
  const one = pack.contents.flatMap((content) =>
    Array.from({ length: content.containerCount }, () => content),
  )
  const costs = apportion(line.priceMicro, priceWeights(pack))
  // The id of its first container is a number no other kit unit has.
  const kitUnit = isKit(pack) ? nextId(now.file, "container") : null
  return one.map((content, index) => {
    const { id, code } = fillContainer(now, {
      supplyId: content.supplyId,
      lotId: line.lotOfSupply.get(content.supplyId)!,
      receiptLineId: line.lineId,
      kitUnit,
      fullAmount: content.amount,
      amount: leftOf(content.amount, line.leftPpm),
      costMicro: costs[index]!,
      basis: line.leftPpm == null ? "counted" : "estimated",
    })
    return { id, code, supply: content.supply }
  })
}

function weigh(now: Act, containers: Received["containers"], grossMg: number): void {
  const [only, ...others] = containers
  if (!only || others.length > 0) {
    throw new Refusal("Several came at once, and the scale read one number. Weigh each on its own page.", {
      field: "gross",
    })
  }
  keepFullWeight(now, only.id, grossMg)
}

/** What leaked is not in it; something is, or it would not be taken in. */
function leftOf(amount: number, leftPpm: number | null | undefined): number {
  return leftPpm == null ? amount : Math.max(1, Math.round((amount * leftPpm) / 1e6))
}

/** By amount within one base unit; a mL and a piece cannot be weighed against each other, so evenly then. */
function priceWeights(pack: PackInfo): number[] {
  const oneUnit = new Set(pack.contents.map((content) => content.baseUnit)).size === 1
  return pack.contents.flatMap((content) =>
    Array.from({ length: content.containerCount }, () => (oneUnit ? content.amount : 1)),
  )
}

/** Several supplies in one pack: a kit. */
export function isKit(pack: PackInfo): boolean {
  return suppliesOf(pack).length > 1
}

/** The supplies of a pack, each once, in its order. */
export function suppliesOf(pack: PackInfo): number[] {
  return [...new Set(pack.contents.map((content) => content.supplyId))]
}

function contentOf(pack: PackInfo, supplyId: number, index: number): PackInfo["contents"][number] {
  const found = pack.contents.find((content) => content.supplyId === supplyId)
  if (found) return found
  throw new Refusal(`A lot was given for something that is not in ${pack.name}. Choose the pack again.`, {
    field: `lots[${index}][supplyId]`,
  })
}

function refuseUnlikely(delivery: Delivery, pack: PackInfo, input: ReceiveInput): void {
  const refuse = (sentence: string, field: string) => {
    throw new Refusal(sentence, { field })
  }
  if (delivery.closed) refuse("This delivery is closed. Open it again, or begin a new one.", "deliveryId")
  if (!Number.isSafeInteger(input.count) || input.count < 1 || input.count > MOST_PACKS)
    refuse(`How many came is a whole number from 1 to ${MOST_PACKS}.`, "count")
  const perPack = pack.contents.reduce((sum, content) => sum + content.containerCount, 0)
  if (input.count * perPack > MOST_CONTAINERS) {
    refuse(
      `That would be ${input.count * perPack} containers, each with a code of its own. Take in at most ${MOST_CONTAINERS} at once.`,
      "count",
    )
  }
  if (!Number.isSafeInteger(input.priceMicro) || input.priceMicro < 0 || input.priceMicro > MOST_MICRO)
    refuse("That price cannot be. Write what one pack cost, like 12.50, or 0.", "price")
  if (perPack === 0) refuse(`Nothing is entered as the contents of ${pack.name}. Set it up first.`, "packId")
  const given = input.lots.map((lot) => lot.supplyId)
  if (new Set(given).size !== given.length) refuse("One lot for each thing in the pack is enough.", "lots")
  for (const content of pack.contents) {
    if (!given.includes(content.supplyId))
      refuse(`Put the lot of ${content.supply}, or say that none is printed.`, "lots")
  }
  for (const [index, lot] of input.lots.entries()) {
    if (lot.number !== null && (lot.number.length < 1 || lot.number.length > 80))
      refuse("A lot number has 1 to 80 characters.", `lots[${index}][number]`)
  }
}

function summaryOf(
  pack: PackInfo,
  input: ReceiveInput,
  goneOffBefore: readonly IsoDate[],
  receivedOn: IsoDate,
): string {
  const numbers = [...new Set(input.lots.map((lot) => lot.number).filter((number) => number !== null))]
  const lots = numbers.length === 0 ? "" : `, lot ${numbers.join(" and ")}`
  const past = goneOffBefore[0]
  const warning =
    past === undefined
      ? ""
      : `. By its shelf life it went off on ${sayDate(past, receivedOn)}: it will not be proposed`
  const many = input.count === 1 ? "" : `${input.count} × `
  return `${many}${pack.name} received${lots}${warning}`
}
