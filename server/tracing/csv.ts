import { stringify } from "csv-stringify/sync"
import type { CupTrace } from "./cup.ts"
import type { LotTrace } from "./lot.ts"

/** RFC 4180, with what a spreadsheet would take for a formula made harmless. */
function csv(rows: Record<string, string | number>[], columns: string[]): string {
  return stringify(rows, { header: true, columns, record_delimiter: "windows", escape_formulas: true })
}

const CUP_COLUMNS = [
  "cup",
  "layer",
  "step",
  "applied_at",
  "mix",
  "container",
  "supply",
  "amount",
  "unit",
  "opened_on",
  "lot",
  "maker",
  "seller",
  "received_on",
  "expires_on",
  "topped_up_from",
]

/** A cup's trace as CSV: one row for each lot of each container of each coat. Amounts in the supply's base unit. */
export function cupTraceCsv(trace: CupTrace): string {
  const rows = trace.layers.flatMap((layer) =>
    layer.coats.flatMap((coat) =>
      coat.uses.flatMap((use) =>
        use.lots.map((lot) => ({
          cup: trace.serial,
          layer: layer.position,
          step: layer.name,
          applied_at: coat.happenedAt,
          mix: coat.mix ?? "",
          container: use.container,
          supply: use.supply,
          amount: use.amount,
          unit: use.baseUnit,
          opened_on: use.openedOn ?? "",
          lot: lot.number ?? "none printed",
          maker: lot.maker ?? "",
          seller: lot.seller ?? "",
          received_on: lot.receivedOn ?? "",
          expires_on: lot.expiresOn ?? "",
          topped_up_from: lot.toppedUpFrom ?? "",
        })),
      ),
    ),
  )
  return csv(rows, CUP_COLUMNS)
}

const LOT_COLUMNS = [
  "supply",
  "maker",
  "lot",
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
    cup: cup.serial,
    state: cup.state,
    design: cup.design,
    layers: cup.layers,
    first_used_on: cup.firstOn,
    order: cup.orderId ?? "",
    buyer: cup.buyer ?? "",
    contact: cup.contact ?? "",
  }))
  return csv(rows, LOT_COLUMNS)
}
