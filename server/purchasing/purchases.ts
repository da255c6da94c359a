import { sql } from "../../db/words.ts"
import { type IsoDate, sayDate } from "../domain/dates.ts"
import { formatMoney } from "../domain/money.ts"
import { costOf, orderCost } from "../domain/pack-mix.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { changed, made } from "../ledger/row-change.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { packs as packsOf, sellers as sellersOf } from "../supplies/service.ts"

export interface PurchaseInput {
  sellerId: number
  packId: number
  count: number
  /** today when left out */
  orderedOn?: IsoDate
  expectedOn: IsoDate
}

/** Packs that are ordered and have not all come. */
export interface OpenPurchase {
  purchaseId: number
  sellerId: number
  seller: string
  packId: number
  pack: string
  count: number
  /** packs still to come */
  awaited: number
  orderedOn: IsoDate
  expectedOn: IsoDate
}

/** What is ordered from one seller in one go. */
export interface OrderInput extends Omit<PurchaseInput, "packId" | "count"> {
  lines: readonly { packId: number; count: number }[]
  /** too small for the seller, or little short of free shipping: whoever orders it was told */
  asItIs?: true
}

/**
 * Notes that packs are ordered; from then on they count as coming on the day they are expected.
 *
 * @throws {Refusal} no packs, a pack or seller that is not there, expected before it was ordered
 */
export function orderPacks(studio: Studio, by: Actor, input: PurchaseInput): Done<{ purchaseId: number }> {
  return act(studio, "buy", by, input, (now) => {
    const { packId, count, ...order } = input
    const { purchaseIds, summary } = writeOrder(studio, now, { ...order, lines: [{ packId, count }] })
    return { summary, answer: { purchaseId: purchaseIds[0]! } }
  })
}

/**
 * The same for all that is ordered from a seller in one go, undone as one.
 *
 * @throws {Refusal} as `orderPacks`; 409 once where the seller's terms speak against it, see `termsAgainst`
 */
export function orderFromSeller(
  studio: Studio,
  by: Actor,
  input: OrderInput,
): Done<{ purchaseIds: number[] }> {
  return act(studio, "buy", by, input, (now) => {
    if (input.lines.length === 0) throw new Refusal("Tick what is ordered first.", { field: "lines" })
    const against = input.asItIs ? null : termsAgainst(studio, input)
    const { purchaseIds, summary } = writeOrder(studio, now, input)
    if (against !== null) throw new Refusal(against, { status: 409, field: TERMS })
    return { summary, answer: { purchaseIds } }
  })
}

/**
 * A pack at a seller as a person tells it from others: with what is in it, where its name does not say that.
 * "Clear kit from Near & Co (Clear A and Clear B)"
 *
 * @returns null: there is no such pack or seller
 */
export function packFrom(studio: Studio, packId: number, sellerId: number): string | null {
  const pack = packsOf(studio).find((one) => one.id === packId)
  const seller = sellersOf(studio).find((one) => one.id === sellerId)
  if (!pack || !seller) return null
  const holds = [...new Set(pack.contents.map((content) => content.supply))]
  const isSaid = holds.every((supply) => pack.name.includes(supply))
  return `${pack.name} from ${seller.name}${isSaid ? "" : ` (${holds.join(" and ")})`}`
}

/** Where a refusal stands that a second tap passes over. */
export const TERMS = "asItIs"

/**
 * What the seller's terms say against an order: it is below the smallest the seller takes, or pays for shipping
 * although goods for no more than that shipping would make it free. Packs without a price say nothing.
 *
 * @returns null: nothing
 */
function termsAgainst(studio: Studio, { sellerId, lines }: OrderInput): string | null {
  const seller = sellersOf(studio).find((one) => one.id === sellerId)
  if (!seller) return null
  const sold = new Map(packsOf(studio).map((pack) => [pack.id, pack]))
  let goodsMicro = 0
  for (const { packId, count } of lines) {
    const offer = sold.get(packId)?.offers.find((one) => one.sellerId === sellerId)
    if (!offer) return null
    goodsMicro += costOf(offer, count)
  }
  const { belowMinimumMicro, untilFreeMicro, shippingMicro } = orderCost(goodsMicro, seller)
  const { currency } = settingsOf(studio)
  const money = (micro: number) => formatMoney(micro, currency)
  if (belowMinimumMicro > 0) {
    return `Nothing is noted yet. ${seller.name} takes no order so small: what is ticked is ${money(goodsMicro)}, and ${money(belowMinimumMicro)} more is needed. Add to it, or note it as ordered all the same.`
  }
  if (untilFreeMicro !== null && untilFreeMicro <= shippingMicro) {
    return `Nothing is noted yet. ${money(untilFreeMicro)} more of goods and ${seller.name} ships free, which saves ${money(shippingMicro)}. Add to it, or note it as ordered all the same.`
  }
  return null
}

function writeOrder(studio: Studio, now: Act, input: OrderInput): { purchaseIds: number[]; summary: string } {
  const { file } = studio
  const { orderedOn = todayOf(studio), expectedOn } = input
  for (const { count } of input.lines) {
    if (!Number.isSafeInteger(count) || count < 1)
      throw new Refusal("How many packs must be a whole number, at least 1.", { field: "count" })
  }
  refuseBeforeOrdered(orderedOn, expectedOn)
  const seller = file.first(sql.selectFrom("seller").select("name").where("id", "=", input.sellerId))
  const packs = input.lines.map(({ packId, count }) => {
    const pack = file.first(sql.selectFrom("pack").select("name").where("id", "=", packId))
    if (!pack) throw new Refusal("Choose the pack that is ordered.", { field: "packId" })
    return { packId, count, name: pack.name }
  })
  if (!seller) throw new Refusal("Choose who it is ordered from.", { field: "sellerId" })
  const purchaseIds = packs.map(({ packId, count }) =>
    made(now, "purchase", () =>
      file.insert("purchase", {
        seller_id: input.sellerId,
        pack_id: packId,
        count,
        ordered_on: orderedOn,
        expected_on: expectedOn,
        cancelled: 0,
      }),
    ),
  )
  const what = packs.map(({ count, name }) => `${count} × ${name}`).join("; ")
  const expected = sayDate(expectedOn, now.happenedOn)
  return { purchaseIds, summary: `Ordered ${what} from ${seller.name}, expected ${expected}` }
}

const OPEN = `SELECT * FROM (
    SELECT p.id AS purchaseId, p.seller_id AS sellerId, s.name AS seller, p.pack_id AS packId, k.name AS pack, p.count,
      p.ordered_on AS orderedOn, p.expected_on AS expectedOn,
      p.count - coalesce((SELECT sum(l.count) FROM receipt_line l WHERE l.purchase_id = p.id
        AND ${stands("l.action_id")}), 0) AS awaited
    FROM purchase p JOIN seller s ON s.id = p.seller_id JOIN pack k ON k.id = p.pack_id WHERE p.cancelled = 0)
  WHERE awaited > 0`

/** What is ordered and has not come, the next expected first. */
export function openPurchases(studio: Studio): OpenPurchase[] {
  return studio.file.allText<OpenPurchase>(`${OPEN} ORDER BY expectedOn, purchaseId`)
}

/** Calls off what has not come of a purchase. @throws {Refusal} it is not open any more */
export function cancelPurchase(studio: Studio, by: Actor, purchaseId: number): Done<{ purchaseId: number }> {
  return act(studio, "call off", by, { purchaseId }, (now) => {
    const open = openPurchase(studio, purchaseId)
    changed(now, "purchase", purchaseId, () => {
      studio.file.run(sql.updateTable("purchase").set({ cancelled: 1 }).where("id", "=", purchaseId))
    })
    return { summary: `${packsToCome(open)} not coming any more`, answer: { purchaseId } }
  })
}

/** Sets the day on which a purchase is expected. @throws {Refusal} it is not open any more; before it was ordered */
export function expectPurchase(
  studio: Studio,
  by: Actor,
  input: { purchaseId: number; expectedOn: IsoDate },
): Done<{ purchaseId: number }> {
  const { purchaseId, expectedOn } = input
  return act(studio, "expect", by, input, (now) => {
    const open = openPurchase(studio, purchaseId)
    refuseBeforeOrdered(open.orderedOn, expectedOn)
    changed(now, "purchase", purchaseId, () => {
      studio.file.run(
        sql.updateTable("purchase").set({ expected_on: expectedOn }).where("id", "=", purchaseId),
      )
    })
    const day = sayDate(expectedOn, now.happenedOn)
    return { summary: `${packsToCome(open)} now expected ${day}`, answer: { purchaseId } }
  })
}

function openPurchase(studio: Studio, purchaseId: number): OpenPurchase {
  const open = studio.file.firstText<OpenPurchase>(`${OPEN} AND purchaseId = ?`, [purchaseId])
  if (!open) throw new Refusal("That purchase is not open any more.", { status: 409 })
  return open
}

function packsToCome(open: OpenPurchase): string {
  return `${open.awaited} × ${open.pack} from ${open.seller}`
}

function refuseBeforeOrdered(orderedOn: IsoDate, expectedOn: IsoDate): void {
  if (expectedOn >= orderedOn) return
  throw new Refusal("It cannot be expected before it is ordered. Put that day or a later one.", {
    field: "expectedOn",
  })
}
