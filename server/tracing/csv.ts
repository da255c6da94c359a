import { Temporal } from "temporal-polyfill"
import type { BaseUnit } from "../../db/tables.ts"
import { type Beside, sayOpenAge } from "../domain/side-by-side.ts"
import { fieldUnit, toUnit, type UnitSystem } from "../domain/units.ts"
import { csvOf } from "../web/csv.ts"
import type { CupTrace } from "./cup.ts"
import type { LotTrace } from "./lot.ts"
import type { SupplyBeside } from "./side-by-side.ts"
import { EXPIRY_BASIS } from "./words.ts"

/** How a studio writes amounts and what its clock reads. */
export interface Reader {
  units: UnitSystem
  timeZone: string
}

const CUP_COLUMNS = [
  "cup",
  "layer",
  "step",
  "applied_at",
  "time_zone",
  "applied_at_utc",
  "mix",
  "container",
  "supply",
  "quantity",
  "quantity_unit",
  "amount",
  "unit",
  "opened_on",
  "lot",
  "maker",
  "seller",
  "received_on",
  "expires_on",
  "expiry_basis",
  "topped_up_from",
  "stripped_at",
  "mix_found",
  "room_celsius",
  "room_humidity_percent",
]

/**
 * A cup's trace as CSV: one row for each lot of each container of each coat. `quantity` is for reading, in mL or g or
 * what the studio uses, to a ten-thousandth; `amount` is exact, in the supply's base unit. Times on the studio's clock.
 */
export function cupTraceCsv(trace: CupTrace, reader: Reader): string {
  const rows = trace.layers.flatMap((layer) =>
    layer.coats.flatMap((coat) =>
      coat.uses.flatMap((use) =>
        use.lots.map((lot) => ({
          cup: trace.serial,
          layer: layer.position,
          step: layer.name,
          applied_at: clockTime(coat.happenedAt, reader.timeZone),
          time_zone: reader.timeZone,
          applied_at_utc: coat.happenedAt,
          mix: coat.mix ?? "",
          container: use.container,
          supply: use.supply,
          ...readable(use.amount, use.baseUnit, reader.units),
          amount: use.amount,
          unit: use.baseUnit,
          opened_on: use.openedOn ?? "",
          lot: lot.number ?? "none printed",
          maker: lot.maker ?? "",
          seller: lot.seller ?? "",
          received_on: lot.receivedOn ?? "",
          expires_on: lot.expiresOn ?? "",
          expiry_basis: EXPIRY_BASIS[lot.expiryBasis],
          topped_up_from: lot.toppedUpFrom ?? "",
          stripped_at: coat.strippedAt ?? "",
          mix_found: coat.mixChecks.flatMap((check) => check.hardness ?? []).at(-1) ?? "",
          room_celsius: coat.room?.celsiusTenths == null ? "" : coat.room.celsiusTenths / 10,
          room_humidity_percent: coat.room?.humidityPercent ?? "",
        })),
      ),
    ),
  )
  return csvOf(CUP_COLUMNS, rows)
}

/** "2026-12-01 14:05", which a spreadsheet takes for a time. */
function clockTime(instant: string, timeZone: string): string {
  const clock = Temporal.Instant.from(instant).toZonedDateTimeISO(timeZone)
  return `${clock.toPlainDate().toString()} ${clock.toPlainTime().toString({ smallestUnit: "minute" })}`
}

function readable(amount: number, baseUnit: BaseUnit, units: UnitSystem) {
  const unit = fieldUnit(baseUnit, units)
  return {
    quantity: Number(toUnit(amount, unit).toFixed(4)),
    quantity_unit: baseUnit === "each" ? "pieces" : unit,
  }
}

const LOT_COLUMNS = [
  "supply",
  "maker",
  "lot",
  "expires_on",
  "expiry_basis",
  "cup",
  "state",
  "design",
  "layers",
  "first_used_on",
  "order",
  "buyer",
  "contact",
]

/** A lot's trace as CSV: one row a cup. */
export function lotTraceCsv(trace: LotTrace): string {
  const rows = trace.cups.map((cup) => ({
    supply: trace.supply,
    maker: trace.maker ?? "",
    lot: trace.number ?? "none printed",
    expires_on: trace.expiresOn ?? "",
    expiry_basis: EXPIRY_BASIS[trace.expiryBasis],
    cup: cup.serial,
    state: cup.state,
    design: cup.design,
    layers: cup.layers,
    first_used_on: cup.firstOn,
    order: cup.orderId ?? "",
    buyer: cup.buyer ?? "",
    contact: cup.contact ?? "",
  }))
  return csvOf(LOT_COLUMNS, rows)
}

const BESIDE_COLUMNS = ["supply", "compared_by", "with", "with_bad", "with_all", "rest_bad", "rest_all"]

/** A supply's cups side by side as CSV, counts alone: with any of it against all others, then its lots and ages each against the rest. */
export function sideBySideCsv({ supply, any, lots, ages }: SupplyBeside): string {
  const row = (by: string, what: string, { withIt, others }: Beside) => ({
    supply,
    compared_by: by,
    with: what,
    with_bad: withIt.bad,
    with_all: withIt.all,
    rest_bad: others.bad,
    rest_all: others.all,
  })
  const rows = [
    row("supply", "any of it", any),
    ...lots.map((lot) => row("lot", lot.number ?? "none printed", lot)),
    ...(ages ?? []).map((one) => row("open for", sayOpenAge(one.age), one)),
  ]
  return csvOf(BESIDE_COLUMNS, rows)
}
