import { type IsoDate, sayDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Life, lotExpiry } from "../domain/shelf-life.ts"
import type { Act } from "../ledger/act.ts"
import { lotOf } from "../ledger/fill.ts"

/** What the label says of one supply of a pack. `number` null: none printed. */
export interface LabelledLot {
  supplyId: number
  number: string | null
  madeOn: IsoDate | null
  expiresOn: IsoDate | null
}

/** What else decides a lot's dates. */
export interface LotContext {
  supply: string
  makerId: number | null
  shelfLife: Life | null
  receivedOn: IsoDate
  /** beginning of the names of the label's fields: "lots[0]" */
  field: string
  /** it stood on the shelf when the book was begun, and may have gone off before */
  wasThere?: boolean
}

/**
 * The lot a label speaks of, made if it is new, with the day it goes off worked out.
 *
 * @returns its id and the day it goes off
 * @throws {Refusal} dates that cannot be: made after it came or after it went off, gone off before it came; a lot
 *   that is in the book with another expiry day
 */
export function receivedLot(
  act: Act,
  label: LabelledLot,
  context: LotContext,
): { lotId: number; expiresOn: IsoDate | null } {
  refuseImpossibleDates(label, context)
  const { expiresOn, basis } = lotExpiry({
    label: label.expiresOn,
    madeOn: label.madeOn,
    receivedOn: context.receivedOn,
    shelfLife: context.shelfLife,
  })
  const lotId = inField(context.field, () =>
    lotOf(act, {
      supplyId: label.supplyId,
      makerId: context.makerId,
      number: label.number,
      madeOn: label.madeOn,
      expiresOn,
      expiryBasis: basis,
    }),
  )
  return { lotId, expiresOn: refuseGoneOffBefore(act, lotId, context) }
}

/** @throws {Refusal} beside the field: made after it came or after it goes off, gone off before it came */
export function refuseImpossibleDates(
  { madeOn, expiresOn }: Pick<LabelledLot, "madeOn" | "expiresOn">,
  context: Pick<LotContext, "supply" | "receivedOn" | "field" | "wasThere">,
): void {
  const { receivedOn, supply, field, wasThere = false } = context
  const say = (date: IsoDate) => sayDate(date, receivedOn)
  if (madeOn !== null && madeOn > receivedOn) {
    throw new Refusal(
      `${supply} cannot have been made on ${say(madeOn)} and have come on ${say(receivedOn)}. Look at the label again.`,
      { field: `${field}[madeOn]` },
    )
  }
  if (expiresOn !== null && expiresOn < receivedOn && !wasThere) throw goneOff(supply, expiresOn, context)
  if (madeOn !== null && expiresOn !== null && madeOn > expiresOn) {
    throw new Refusal(
      `${supply} cannot go off on ${say(expiresOn)}, before it was made on ${say(madeOn)}. Look at the label again.`,
      { field: `${field}[expiresOn]` },
    )
  }
}

/** A lot that is known from before may carry a day on its label that has passed. @returns the day it goes off */
function refuseGoneOffBefore(act: Act, lotId: number, context: LotContext): IsoDate | null {
  const lot = act.file.firstText<{ expires_on: IsoDate | null; expiry_basis: string }>(
    "SELECT expires_on, expiry_basis FROM lot WHERE id = ?",
    [lotId],
  )
  const day = lot?.expires_on ?? null
  if (day !== null && lot?.expiry_basis === "label" && day < context.receivedOn)
    throw goneOff(context.supply, day, context)
  return day
}

function goneOff(
  supply: string,
  day: IsoDate,
  { receivedOn, field }: Pick<LotContext, "receivedOn" | "field">,
): Refusal {
  return new Refusal(
    `${supply} went off on ${sayDate(day, receivedOn)}, before it came on ${sayDate(receivedOn, receivedOn)}. ` +
      "Look at the label again; if it is so, send it back and do not take it in.",
    { field: `${field}[expiresOn]` },
  )
}

/** The ledger names a lot's fields without knowing the form; here they get their place in it. */
function inField<T>(field: string, work: () => T): T {
  try {
    return work()
  } catch (error) {
    if (!(error instanceof Refusal) || error.field === undefined) throw error
    throw new Refusal(error.message, { field: `${field}[${error.field}]`, status: error.status })
  }
}
