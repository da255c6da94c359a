import type { Request } from "express"
import { sayDate } from "../domain/dates.ts"
import { cautionsFor, isHazard } from "../domain/hazards.ts"
import { fieldUnit } from "../domain/units.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { type PackInfo, packById } from "../supplies/service.ts"
import { id } from "../web/fields.ts"
import { type FormState, readQuery } from "../web/forms.ts"
import { address } from "./address.ts"
import { awaited, expectedIn } from "./awaited.ts"
import { lotBefore } from "./before.ts"
import { type Delivery, deliveryById } from "./deliveries.ts"
import { type LabelFacts, labelFacts } from "./label-facts.ts"
import { isKit, suppliesOf } from "./receive.ts"
import { inAddress, scanFieldsOrNone, scanIn } from "./scan.ts"
import { hazardsOf, likelyPrice, likelyUnnumbered, priceField } from "./suggest.ts"

/** What stands behind the "?": which pack, and the code that led to it where it says more than that. */
export const ConfirmQuery = scanFieldsOrNone.extend({ delivery: id, pack: id })

/** The panel that confirms one thing of a delivery. With a code that says all, one tap is enough. */
export function confirmModel(studio: Studio, req: Request, state: FormState | null) {
  const query = readQuery(ConfirmQuery, req)
  const delivery = deliveryById(studio, query.delivery)
  const pack = packById(studio, query.pack)
  const scan = scanIn(query)
  const facts = scan === null ? null : labelFacts(studio, scan, pack)
  const coming = awaited(studio, pack.id, delivery.sellerId)
  const kit = isKit(pack)
  const lots = suppliesOf(pack).map((supplyId) => {
    const content = pack.contents.find((one) => one.supplyId === supplyId)!
    return { supplyId, supply: content.supply, none: likelyUnnumbered(studio, pack.id, content) }
  })
  const { units, currency } = settingsOf(studio)
  const missing = coming.reduce((sum, one) => sum + one.missing, 0)
  const mayReplace =
    coming.length > 0
      ? []
      : expectedIn(studio, delivery.id, delivery.sellerId)
          .filter((one) => one.missing > 0)
          .map((one) => ({ value: one.purchaseId, label: one.pack }))
  return {
    title: pack.name,
    lead: pack.maker === null ? undefined : `Made by ${pack.maker}.`,
    back: { to: address("/receive", { delivery: delivery.id }), label: "Delivery" },
    action: address("/receive/confirm", { delivery: delivery.id, pack: pack.id, ...inAddress(scan) }),
    contents: pack.contents,
    carton: facts !== null && facts.packs > 1 ? facts.packs : null,
    coming: coming[0] ?? null,
    missing,
    doubts: [...(facts?.doubts ?? []), ...serialDoubts(studio, pack, facts)],
    hereAlready: alreadyHere(studio, delivery, pack, facts?.lot ?? null),
    count: facts !== null && facts.packs > 1 ? facts.packs : facts?.serial != null ? 1 : Math.max(1, missing),
    price: priceField(likelyPrice(studio, pack, delivery.sellerId)),
    currency,
    isKit: kit,
    sameWords: lots.length === 2 ? "The same on both" : "The same on all",
    lotsAre: state?.values.lotsAre?.[0] ?? "one",
    sharedNone: facts?.lot == null && lots.every((lot) => lot.none),
    lots: lots.map((lot) => ({ ...lot, none: facts?.lot == null && lot.none })),
    facts,
    said: {
      number: facts?.lot ?? "",
      expires: facts?.expiresOn ? dateField(facts.expiresOn) : "",
      made: facts?.madeOn ? dateField(facts.madeOn) : "",
    },
    // all there is to ask is answered by the code: what it says is shown, and one tap takes it in
    isComplete: facts?.lot != null && state === null,
    before: facts?.lot == null ? lotBefore(studio, delivery.id, pack) : null,
    insteadOf: mayReplace,
    scaleUnit: fieldUnit("mg", units),
    isWeighed: weighable(pack),
    otherwiseWords: otherwiseWords(mayReplace.length > 0, weighable(pack)),
    otherwise:
      state !== null &&
      ((state.values.came?.[0] ?? "whole") !== "whole" ||
        ["insteadOf", "gross"].some((name) => (state.values[name]?.[0] ?? "") !== "")),
    cautions: storeCautions(studio, pack),
  }
}

/** Only what can be said of this pack: a kit is not weighed, and what was ordered came in place of nothing. */
function otherwiseWords(mayReplace: boolean, isWeighed: boolean): string {
  const more = [...(mayReplace ? ["another than ordered"] : []), ...(isWeighed ? ["to be weighed"] : [])]
  const all = ["Damaged", "leaked", ...more]
  return `${all.slice(0, -1).join(", ")} or ${all.at(-1)}`
}

/** "3 Dec 2027": what is read back from it is the same day, whatever the year. */
export function dateField(date: string): string {
  const [year, month, day] = date.split("-")
  const names = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
  return `${Number(day)} ${names[Number(month) - 1]} ${year}`
}

/** One container whose contents a scale can tell. */
function weighable(pack: PackInfo): boolean {
  const [only, ...others] = pack.contents
  return (
    only !== undefined &&
    others.length === 0 &&
    only.containerCount === 1 &&
    (only.baseUnit === "uL" || only.baseUnit === "mg")
  )
}

/** A serial number is printed on one pack alone. */
function serialDoubts(studio: Studio, pack: PackInfo, facts: LabelFacts | null): string[] {
  if (facts?.serial == null) return []
  const before = studio.file.firstText<{ received_on: string }>(
    `SELECT d.received_on FROM receipt_line l JOIN delivery d ON d.id = l.delivery_id
     WHERE l.pack_id = ? AND l.serial = ? AND ${stands("l.action_id")}`,
    [pack.id, facts.serial],
  )
  if (!before) return []
  const day = sayDate(before.received_on, todayOf(studio))
  return [`This very one (serial ${facts.serial}) was taken in on ${day} already.`]
}

/** A box scanned twice looks like two boxes: what is there already is said. */
function alreadyHere(studio: Studio, delivery: Delivery, pack: PackInfo, lot: string | null): string | null {
  const { packs } = studio.file.firstText<{ packs: number }>(
    `SELECT coalesce(sum(l.count), 0) AS packs FROM receipt_line l
     WHERE l.delivery_id = ? AND l.pack_id = ?
       AND (? IS NULL OR EXISTS (SELECT 1 FROM container c JOIN lot t ON t.id = c.lot_id WHERE c.receipt_line_id = l.id AND t.number = ?))
       AND ${stands("l.action_id")}`,
    [delivery.id, pack.id, lot, lot],
  )!
  if (packs === 0) return null
  const of = lot === null ? "" : ` with lot ${lot}`
  return packs === 1
    ? `One of it${of} is in this delivery already. Is this another?`
    : `${packs} of it${of} are in this delivery already. Is this another?`
}

/** Only for what carries a hazard: a box of lids needs no warning. */
function storeCautions(studio: Studio, pack: PackInfo): readonly string[] {
  const hazards = hazardsOf(studio, pack).filter(isHazard)
  if (hazards.length === 0) return []
  const burns = hazards.includes("aerosol") || hazards.includes("flammable-liquid")
  const store = burns
    ? ["Store it cool, upright and locked away from heaters, sun, sparks and curing ovens."]
    : []
  return [...store, ...cautionsFor(hazards)]
}
