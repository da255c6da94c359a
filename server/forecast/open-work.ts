import { batchSubstitutes } from "../batches/service.ts"
import { designs, plansOf } from "../designs/service.ts"
import type { IsoDate } from "../domain/dates.ts"
import type { OpenLine } from "../domain/forecast.ts"
import type { Plan } from "../domain/plan.ts"
import { spareCups } from "../domain/scrap.ts"
import { withSubstitutes } from "../domain/substitutes.ts"
import type { Work } from "../domain/work.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { ordersList } from "../orders/service.ts"
import { minutesFrom } from "./clock.ts"
import { recoatOn } from "./recoat-on.ts"
import { type ScrapRecord, scrapRecords } from "./record.ts"

/** A line typed in and not kept. */
export interface DraftLine {
  designId: number
  quantity: number
  dueOn: IsoDate
}

/** An order line as the forecast sees it, with what a person calls it. */
export interface AskedLine {
  open: OpenLine
  /** null for a line typed in and not kept */
  orderId: number | null
  buyer: string | null
  design: string
  designId: number
  /** which of the lines typed in it is, counted from 0; null for a kept one */
  askedAt: number | null
  quantity: number
  /** what became of the design's cups so far */
  scrap: ScrapRecord
  /** finished or sent already */
  made: number
}

/** All that is still to be made: lines of planned orders, lines typed in, and batches that belong to neither. */
export interface OpenWork {
  lines: AskedLine[]
  loose: Work[]
}

interface InWork {
  batch_id: number
  version_id: number
  order_line_id: number | null
  done: number
  cups: number
  /** when the first and the last of them got their last layer; '' while they have none */
  first_at: string
  last_at: string
  /** the highest layer that any cup of the batch has had */
  begun: number
}

/** Cups in work by batch, order line and layers done (the highest layer they have, as batches count it). */
const IN_WORK = `WITH w AS MATERIALIZED (
    SELECT c.batch_id, b.version_id, c.order_line_id, (
      SELECT coalesce(max((100000 + l.position) || a.happened_at), '100000')
      FROM coat_cup cc JOIN coat k ON k.id = cc.coat_id JOIN layer l ON l.id = k.layer_id JOIN action a ON a.id = k.action_id
      WHERE cc.cup_id = c.id AND ${stands("k.action_id")}
        AND NOT EXISTS (
          SELECT 1 FROM strip s WHERE s.cup_id = c.id AND s.action_id > k.action_id AND s.from_position <= l.position
            AND ${stands("s.action_id")})
    ) AS last
    FROM cup c JOIN batch b ON b.id = c.batch_id WHERE c.state = 'in work')
  SELECT batch_id, version_id, order_line_id, substr(last, 1, 6) - 100000 AS done, count(*) AS cups,
    min(substr(last, 7)) AS first_at, max(substr(last, 7)) AS last_at, (
    SELECT coalesce(max(l.position), 0) FROM coat k JOIN layer l ON l.id = k.layer_id
    WHERE (k.batch_id = w.batch_id OR k.id IN (
        SELECT o.coat_id FROM cup u JOIN coat_cup o ON o.cup_id = u.id WHERE u.batch_id = w.batch_id
      )) AND ${stands("k.action_id")}
  ) AS begun FROM w
  GROUP BY batch_id, order_line_id, done ORDER BY batch_id, order_line_id, done`

/** @param extra lines typed in; served after kept lines of the same day */
export function openWork(studio: Studio, extra: readonly DraftLine[] = []): OpenWork {
  const orders = ordersList(studio, ["planned"])
  const underWay = studio.file.allText<InWork>(IN_WORK)
  const versionOf = new Map(designs(studio).map((design) => [design.designId, design]))
  const neededVersions = new Set(underWay.map((row) => row.version_id))
  const designIds = [...orders.flatMap((order) => order.lines), ...extra].map((line) => line.designId)
  for (const designId of designIds) neededVersions.add(versionOf.get(designId)!.versionId)
  const plans = plansOf(studio, [...neededVersions])
  const minuteOf = minutesFrom(settingsOf(studio).timeZone, todayOf(studio))
  const scrapOf = scrapRecords(studio)
  const insteadOf = batchSubstitutes(studio)
  const recoatOf = recoatOn(studio)
  const latest = (designId: number): Plan => plans.get(versionOf.get(designId)!.versionId)!

  const byLine = new Map<number | null, Work[]>()
  const lineIds = new Set(orders.flatMap((order) => order.lines.map((line) => line.lineId)))
  for (const rows of batchesOf(underWay)) {
    // a batch for an order that is only a draft, or closed, uses supplies all the same
    const { batch_id, order_line_id, version_id, begun } = rows[0]!
    const lineId = order_line_id !== null && lineIds.has(order_line_id) ? order_line_id : null
    const cups = rows.map((row) => ({
      layersDone: row.done,
      count: row.cups,
      ...(row.done > 0
        ? {
            coated: {
              firstMin: minuteOf(row.first_at),
              lastMin: minuteOf(row.last_at),
              ...recoatOf(row, plans.get(version_id)!),
            },
          }
        : {}),
    }))
    const plan = withSubstitutes(plans.get(version_id)!, insteadOf.get(batch_id) ?? {})
    byLine.set(lineId, [...(byLine.get(lineId) ?? []), { plan, cups, begun }])
  }
  const toStart = (designId: number, count: number): Work[] =>
    count > 0 ? [{ plan: latest(designId), cups: [{ layersDone: 0, count }] }] : []

  const kept = orders.flatMap((order) =>
    order.lines.map((line) => ({
      open: {
        lineId: line.lineId,
        dueOn: line.dueOn,
        work: [...(byLine.get(line.lineId) ?? []), ...toStart(line.designId, line.toStart)],
        spareCups: spareCups(line.toStart, scrapOf(line.designId)),
      },
      designId: line.designId,
      askedAt: null,
      scrap: scrapOf(line.designId),
      orderId: order.orderId,
      buyer: order.buyer,
      design: line.design,
      quantity: line.quantity,
      made: line.ready + line.sent,
    })),
  )
  const typed = extra.map((line, index) => ({
    open: {
      lineId: Number.MAX_SAFE_INTEGER - extra.length + index,
      dueOn: line.dueOn,
      work: toStart(line.designId, line.quantity),
      spareCups: spareCups(line.quantity, scrapOf(line.designId)),
    },
    designId: line.designId,
    askedAt: index,
    scrap: scrapOf(line.designId),
    orderId: null,
    buyer: null,
    design: versionOf.get(line.designId)!.name,
    quantity: line.quantity,
    made: 0,
  }))
  return { lines: [...kept, ...typed], loose: byLine.get(null) ?? [] }
}

/** Rows of one batch for one line, together. */
function batchesOf(rows: readonly InWork[]): InWork[][] {
  const batches = new Map<string, InWork[]>()
  for (const row of rows) {
    const key = `${row.batch_id} ${row.order_line_id}`
    batches.set(key, [...(batches.get(key) ?? []), row])
  }
  return [...batches.values()]
}
