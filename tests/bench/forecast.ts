import type { StudioFile } from "../../db/file.ts"
import { forecast } from "../../server/forecast/service.ts"
import { busy, busyStudio } from "./busy-studio.ts"
import { byTurns, type Line } from "./measure.ts"

/** What a forecast looks at, table by table and by index, in the plainest way. */
const ROWS = [
  "SELECT * FROM studio",
  "SELECT * FROM supply",
  "SELECT * FROM resin_system",
  "SELECT * FROM blank",
  "SELECT * FROM blank_ring",
  "SELECT * FROM design",
  "SELECT * FROM design_version",
  "SELECT * FROM layer",
  "SELECT * FROM layer_use",
  "SELECT * FROM lot",
  "SELECT * FROM container WHERE amount_left > 0",
  "SELECT * FROM pack",
  "SELECT * FROM pack_content",
  "SELECT * FROM offer",
  "SELECT * FROM seller",
  "SELECT * FROM purchase WHERE cancelled = 0",
  "SELECT * FROM customer_order WHERE state = 'planned'",
  "SELECT l.* FROM customer_order o JOIN order_line l ON l.order_id = o.id WHERE o.state = 'planned'",
  "SELECT * FROM cup WHERE state = 'in work'",
  "SELECT cc.* FROM cup c JOIN coat_cup cc ON cc.cup_id = c.id WHERE c.state = 'in work'",
]

/** What runs short of all open orders, against merely reading the rows of orders, cups, supplies, lots and plans. */
export async function forecasting(): Promise<Line[]> {
  const [studio, twice, fourTimes] = [1, 2, 4].map(busyStudio)
  const times = await byTurns({
    forecast: () => forecast(studio!),
    reading: () => readRows(studio!.file),
    twice: () => forecast(twice!),
    fourTimes: () => forecast(fourTimes!),
  })
  const { orders, supplies, lots } = busy(1)
  return [
    {
      name: `forecast ${orders} orders, ${supplies} supplies, ${lots} lots (${rowCount(studio!.file)} rows)`,
      value: times.forecast,
      unit: "ms",
      floor: times.reading,
      aim: { ratio: 5 },
      growth: { twice: times.twice / times.forecast, fourTimes: times.fourTimes / times.forecast },
    },
  ]
}

/** Statements are prepared once and kept by the file. */
function readRows(file: StudioFile): unknown[][] {
  return ROWS.map((text) => file.allText(text))
}

function rowCount(file: StudioFile): number {
  return readRows(file).reduce((sum, rows) => sum + rows.length, 0)
}
