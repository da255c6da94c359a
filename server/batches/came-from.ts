import { Temporal } from "temporal-polyfill"
import { cameFrom, type Giver } from "../domain/came-from.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { usableLeft } from "../domain/sprays.ts"
import { formatAmount } from "../domain/units.ts"
import type { Act } from "../ledger/act.ts"
import { containerById, move } from "../ledger/move.ts"
import { type OnHand, onHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import type { WrittenCoat } from "./coats.ts"

/** What a person says of which containers gave to a coat: of one supply, in its base unit. */
export interface CameFrom {
  coatId: number
  supplyId: number
  given: readonly { containerId: number; amount: number }[]
}

/** Containers that may have given a supply to a coat: those of the book, and what else of it is open. */
interface Givers {
  supplyId: number
  supply: string
  baseUnit: OnHand["baseUnit"]
  densityMgPerMl: number | null
  total: number
  containers: {
    containerId: number
    code: string
    booked: number
    /** the day by which it was to be used, where the coat was put on after it */
    pastSince: IsoDate | null
  }[]
}

/** So many open ones that the book took nothing from are shown, the one opened last first. */
const MOST_OTHERS = 3

/** Of a coat, the poured supplies that may have come from several containers. */
export function giversOf(studio: Studio, coat: WrittenCoat): Givers[] {
  const supplyIds = [...new Set(coat.uses.map((use) => use.supplyId))]
  const { there, pastSince } = thereAt(studio, coat, supplyIds)
  const open = there
    .filter((one) => one.openedOn !== null)
    .sort((a, b) => (b.openedOn ?? "").localeCompare(a.openedOn ?? "") || b.containerId - a.containerId)
  return supplyIds.flatMap((supplyId) => {
    const uses = coat.uses.filter((use) => use.supplyId === supplyId)
    const [{ supply, baseUnit, densityMgPerMl }] = uses as [WrittenCoat["uses"][number]]
    if (baseUnit !== "uL" && baseUnit !== "mg") return []
    const others = open
      .filter((one) => one.supplyId === supplyId && !uses.some((use) => use.containerId === one.containerId))
      .slice(0, MOST_OTHERS)
    const containers = [
      ...uses.map(({ containerId, code, amount }) => ({
        containerId,
        code,
        booked: amount,
        pastSince: pastSince(containerId),
      })),
      ...others.map(({ containerId, code }) => ({
        containerId,
        code,
        booked: 0,
        pastSince: pastSince(containerId),
      })),
    ]
    const total = uses.reduce((sum, use) => sum + use.amount, 0)
    return containers.length < 2 || total <= 0
      ? []
      : [{ supplyId, supply, baseUnit, densityMgPerMl, total, containers }]
  })
}

/** A container that may have been weighed before and after a coat. */
interface Weighable {
  containerId: number
  code: string
  booked: number
  isOpen: boolean
  pastSince: IsoDate | null
}

/** Those that gave of a supply to a coat by the book, and some others that were there: open ones first. */
export function weighableFor(studio: Studio, coat: WrittenCoat, supplyId: number): Weighable[] {
  const uses = coat.uses.filter((use) => use.supplyId === supplyId)
  const { there, pastSince } = thereAt(studio, coat, [supplyId])
  const others = there
    .filter((one) => !uses.some((use) => use.containerId === one.containerId))
    .sort(
      (a, b) =>
        (b.openedOn ?? "").localeCompare(a.openedOn ?? "") ||
        (a.useBy ?? "9999").localeCompare(b.useBy ?? "9999") ||
        a.containerId - b.containerId,
    )
    .slice(0, MOST_OTHERS)
  return [
    ...uses.map(({ containerId, code, amount }) => ({ containerId, code, booked: amount, isOpen: true })),
    ...others.map(({ containerId, code, openedOn }) => ({
      containerId,
      code,
      booked: 0,
      isOpen: openedOn !== null,
    })),
  ].map((one) => ({ ...one, pastSince: pastSince(one.containerId) }))
}

/** What had come by the day of a coat and still has something in it, and which of that was past its day then. */
function thereAt(studio: Studio, coat: WrittenCoat, supplyIds: readonly number[]) {
  const { timeZone } = settingsOf(studio)
  const all = onHand(studio.file, timeZone, [...supplyIds])
  const on = Temporal.Instant.from(coat.doneAt).toZonedDateTimeISO(timeZone).toPlainDate().toString()
  return {
    there: all.filter((one) => one.cameOn <= on && usableLeft(one.amountLeft, one.keptBack) > 0),
    /** the day by which it was to be used, where the coat was put on after it */
    pastSince: (containerId: number): IsoDate | null => {
      const useBy = all.find((one) => one.containerId === containerId)?.useBy ?? null
      return isUsableOn(useBy, on) ? null : useBy
    },
  }
}

/**
 * Brings the containers of a coat to what a person says each gave: what one gave less goes back into it at its cost,
 * what another gave more is taken from it. All of them together stay what they were.
 *
 * @param field beginning of the name of the first field that is asked about
 * @throws {Refusal} another supply's container, more than was taken, a rest that nobody gave, or the book's container
 *   does not hold it
 */
export function bringTo(
  studio: Studio,
  now: Act,
  coat: WrittenCoat,
  said: CameFrom,
  { heldMore, field }: { heldMore: boolean; field: string },
): void {
  const givers = giversOf(studio, coat).find((one) => one.supplyId === said.supplyId)
  if (!givers) throw new Refusal("That supply came from one container alone.", { status: 409 })
  const amount = (value: number) => formatAmount(value, givers.baseUnit, now.units)
  for (const { containerId } of said.given) {
    if (!givers.containers.some((one) => one.containerId === containerId))
      throw new Refusal("That container is not one of those shown any more.", { status: 409 })
  }
  const asked = givers.containers.map(
    (one): Giver => ({
      booked: one.booked,
      said: said.given.find(({ containerId }) => containerId === one.containerId)?.amount ?? null,
    }),
  )
  const shares = cameFrom(givers.total, asked)
  if (shares === "too much") {
    throw new Refusal(
      `That is more of ${givers.supply} than the ${amount(givers.total)} the coat took. Write less, or say above what was measured.`,
      { field },
    )
  }
  if (shares === "left open") {
    throw new Refusal(
      `The coat took ${amount(givers.total)} of ${givers.supply}. Say which of them gave the rest.`,
      { field },
    )
  }
  const changes = givers.containers.map((one, index) => ({ ...one, gave: shares[index]! }))
  bringEachTo(now, coat, changes, { heldMore, basis: "measured" })
}

/** A container that gave to a coat: how much by the book, and how much it really was, in base units. */
export interface Gave {
  containerId: number
  booked: number
  gave: number
}

/**
 * Brings containers of one supply to what each of them gave to a coat: what one gave less goes back into it at its
 * cost, what another gave more is taken from it.
 *
 * @throws {Refusal} the book's container does not hold it, and the person does not say that it held more
 */
export function bringEachTo(
  now: Act,
  { coatId, uses }: Pick<WrittenCoat, "coatId" | "uses">,
  containers: readonly Gave[],
  { heldMore, basis }: { heldMore: boolean; basis: "weighed" | "measured" },
): void {
  for (const { containerId, booked, gave } of containers) {
    if (gave >= booked) continue
    const back = booked - gave
    const cost = uses.find((use) => use.containerId === containerId)?.costMicro ?? 0
    const costMicro = Math.round((cost * back) / booked)
    move(now, containerId, back, { kind: "use", basis, coatId, costMicro })
  }
  for (const { containerId, booked, gave } of containers) {
    if (gave <= booked) continue
    const more = gave - booked
    const { amount_left: left, code, supply } = containerById(now, containerId)
    if (more > left && !heldMore) {
      throw new Refusal(
        `The book says ${code} (${supply}) does not hold that much more. If it did, tick “It held more than the book says”.`,
        { field: "heldMore" },
      )
    }
    if (more > left) move(now, containerId, more - left, { kind: "count", basis: "estimated" })
    move(now, containerId, -more, { kind: "use", basis, coatId })
  }
}
