import { Refusal } from "../domain/refusal.ts"
import { parseStudioCode } from "../domain/studio-code.ts"
import type { Studio } from "../ledger/studio.ts"
import { onPlace, placeCode, placesOf } from "../shelf/service.ts"
import type { Label } from "./drawing.ts"

/** More than that is a slip: a delivery of a thousand packs prints in parts. */
const MOST = 500

interface Row {
  code: string
  supply: string
  number: string | null
  expires_on: string | null
  opened_on: string | null
  width_um: number | null
  height_um: number | null
}

const ROW = `SELECT c.code, s.name AS supply, l.number, l.expires_on, c.opened_on, c.width_um, c.height_um
  FROM container c JOIN supply s ON s.id = c.supply_id JOIN lot l ON l.id = c.lot_id`

/** Of containers, and of what is left of mixes. @throws {Refusal} 404 when one is not there */
export function labelsOfCodes(studio: Studio, codes: readonly string[]): Label[] {
  return [...new Set(codes)].slice(0, MOST).map((code) => {
    if (isMix(code)) return labelOfMix(studio, code)
    const row = studio.file.firstText<Row>(`${ROW} WHERE c.code = ?`, [code])
    if (!row) throw new Refusal(`There is no container with the code ${code.slice(0, 40)}.`, { status: 404 })
    return labelOf(row)
  })
}

/** Whether a code is one that mixes have. */
export function isMix(code: string): boolean {
  return parseStudioCode(code)?.kind === "mix"
}

/** For the mixing cup with what is left in it, to be looked at the next day. */
function labelOfMix(studio: Studio, code: string): Label {
  const row = studio.file.firstText<{ name: string; layer: string; on: string }>(
    `SELECT s.name, l.name AS layer, a.happened_on AS "on" FROM mix x JOIN resin_system s ON s.id = x.resin_system_id
     JOIN coat c ON c.id = x.coat_id JOIN layer l ON l.id = c.layer_id JOIN action a ON a.id = c.action_id WHERE x.code = ?`,
    [code],
  )
  if (!row) throw new Refusal(`There is no mix with the code ${code.slice(0, 40)}.`, { status: 404 })
  return {
    code,
    title: code,
    name: row.name,
    lines: [row.layer, `Mixed on ${inPrint(row.on)}`],
    toFillIn: "Hard on",
  }
}

/** All that came with a delivery and is not undone or used up. */
export function labelsOfDelivery(studio: Studio, deliveryId: number): Label[] {
  return studio.file
    .allText<Row>(
      `${ROW} JOIN receipt_line r ON r.id = c.receipt_line_id
       WHERE r.delivery_id = ? AND c.amount_left > 0 ORDER BY c.id LIMIT ${MOST}`,
      [deliveryId],
    )
    .map(labelOf)
}

/** Whether a delivery is none: what stood on the shelf on the first day. */
export function isFirstDay({ file }: Studio, deliveryId: number): boolean {
  return (
    file.firstText("SELECT 1 FROM delivery WHERE id = ? AND kind = 'opening'", [deliveryId]) !== undefined
  )
}

/** One shelf, or all that something was put on. */
export function labelsOfPlaces(studio: Studio, place: string | null): Label[] {
  const places = place === null ? placesOf(studio).map((one) => one.place) : [place]
  return places.map((name) => {
    const supplies = [...new Set(onPlace(studio, name).map((one) => one.supply))]
    return {
      code: placeCode(name),
      title: name,
      name: supplies.slice(0, 3).join(", "),
      lines: [],
      toFillIn: null,
    }
  })
}

function labelOf({ code, supply, number, expires_on, opened_on, width_um, height_um }: Row): Label {
  const isOffcut = width_um !== null && height_um !== null
  return {
    code,
    title: code,
    name: supply,
    lines: [
      ...(isOffcut ? [`Offcut ${inCm(width_um)} × ${inCm(height_um)} cm`] : []),
      ...(number === null ? [] : [`Lot ${number}`]),
      ...(expires_on === null ? [] : [`Use by ${inPrint(expires_on)}`]),
      ...(opened_on === null || isOffcut ? [] : [`Opened on ${inPrint(opened_on)}`]),
    ],
    toFillIn: opened_on === null ? "Opened on" : null,
  }
}

function inCm(um: number): string {
  return String(Math.round(um / 1000) / 10)
}

/** "30 Jun 2028": on paper a day has its year. */
function inPrint(date: string): string {
  const [year, month, day] = date.split("-")
  const names = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]
  return `${Number(day)} ${names[Number(month) - 1]} ${year}`
}
