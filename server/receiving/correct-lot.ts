import type { ExpiryBasis } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { lotExpiry } from "../domain/shelf-life.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { lifeOf } from "../ledger/on-hand.ts"
import { changed } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import { type LabelledLot, refuseImpossibleDates } from "./lots.ts"

/** A lot as the book has it, to be put right. */
export interface BookedLot extends LabelledLot {
  lotId: number
  supply: string
  makerId: number | null
  /** `expiresOn` of the label is null where the day was worked out */
  bookedExpiry: IsoDate | null
  expiryBasis: ExpiryBasis
  /** the day it first came; null: it stood on the shelf when the book was begun */
  receivedOn: IsoDate | null
  shelfLife: ReturnType<typeof lifeOf>
}

const LOT = `SELECT l.id AS lotId, l.supply_id AS supplyId, s.name AS supply, l.maker_id AS makerId, l.number, l.made_on AS madeOn,
    l.expires_on AS bookedExpiry, l.expiry_basis AS expiryBasis, s.shelf_life, s.shelf_life_unit,
    (SELECT min(d.received_on) FROM container c JOIN receipt_line r ON r.id = c.receipt_line_id
     JOIN delivery d ON d.id = r.delivery_id WHERE c.lot_id = l.id AND d.kind <> 'opening') AS receivedOn
  FROM lot l JOIN supply s ON s.id = l.supply_id WHERE l.id = ?`

/** @throws {Refusal} 404: no such lot */
export function bookedLot({ file }: Studio, lotId: number): BookedLot {
  const row = file.firstText<
    Omit<BookedLot, "expiresOn" | "shelfLife"> & {
      shelf_life: number | null
      shelf_life_unit: Parameters<typeof lifeOf>[1]
    }
  >(LOT, [lotId])
  if (!row) throw new Refusal("There is no such lot.", { status: 404 })
  const { shelf_life, shelf_life_unit, ...lot } = row
  return {
    ...lot,
    expiresOn: lot.expiryBasis === "label" ? lot.bookedExpiry : null,
    shelfLife: lifeOf(shelf_life, shelf_life_unit),
  }
}

/** What its label really says. */
export interface CorrectedLot {
  lotId: number
  /** null: none printed */
  number: string | null
  madeOn: IsoDate | null
  expiresOn: IsoDate | null
}

/** The name of the form's fields: "lot[number]". */
export const FIELD = "lot"

/**
 * Puts right what was written down of a lot's label, also when some of it was used long ago: every bottle, coat and cup
 * of the lot then has the right number. The day it goes off is worked out anew as at its receipt.
 *
 * @throws {Refusal} no such lot; nothing is different; dates that cannot be; another lot of the supply and maker has
 *   that number
 */
export function correctLot(
  studio: Studio,
  by: Actor,
  input: CorrectedLot,
): Done<{ lotId: number; isRenamed: boolean }> {
  return act(studio, "correct", by, input, (now) => {
    const lot = bookedLot(studio, input.lotId)
    const { number, madeOn, expiresOn } = input
    const isRenamed = number !== lot.number
    if (!isRenamed && madeOn === lot.madeOn && expiresOn === lot.expiresOn)
      throw new Refusal("That is what the book says already.", { field: `${FIELD}[number]` })
    refuseImpossibleDates(
      { ...lot, madeOn, expiresOn },
      {
        ...lot,
        receivedOn: lot.receivedOn ?? now.happenedOn,
        wasThere: lot.receivedOn === null,
        field: FIELD,
      },
    )
    if (isRenamed) refuseOthersNumber(studio, lot, number)
    const goesOff = lotExpiry({
      label: expiresOn,
      madeOn,
      receivedOn: lot.receivedOn,
      shelfLife: lot.shelfLife,
    })
    changed(now, "lot", lot.lotId, () => {
      now.file.runText(
        "UPDATE lot SET number = ?, made_on = ?, expires_on = ?, expiry_basis = ? WHERE id = ?",
        [number, madeOn, goesOff.expiresOn, goesOff.basis, lot.lotId],
      )
    })
    const called = (one: string | null) => (one === null ? "the lot without a number" : `lot ${one}`)
    return {
      summary: isRenamed
        ? `Put right: ${called(lot.number)} of ${lot.supply} is ${number === null ? "one without a number" : called(number)}`
        : `Put right the dates of ${called(number)} of ${lot.supply}`,
      answer: { lotId: lot.lotId, isRenamed },
    }
  })
}

/** Two lots cannot become one: what each of them has been through is its own. */
function refuseOthersNumber({ file }: Studio, lot: BookedLot, number: string | null): void {
  if (number === null) return
  const other = file.firstText(
    "SELECT 1 FROM lot WHERE supply_id = ? AND coalesce(maker_id, 0) = ? AND number = ? AND id <> ?",
    [lot.supplyId, lot.makerId ?? 0, number, lot.lotId],
  )
  if (!other) return
  throw new Refusal(
    `Lot ${number} of ${lot.supply} is in the book already, and two lots cannot be made one. While nothing of these was used, undo their receipt and take them in again with that number.`,
    { field: `${FIELD}[number]`, status: 409 },
  )
}
