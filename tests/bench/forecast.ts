import { join } from "node:path"
import Database from "better-sqlite3"
import { forecast } from "../../server/forecast/service.ts"
import { busy, busyStudio } from "./busy-studio.ts"
import { byTurns, type Line } from "./measure.ts"

/** What a forecast looks at, table by table and by index, in the plainest way: prepared once, rows as objects. */
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

/**
 * What runs short of all open orders, against merely reading the rows of orders, cups, supplies, lots and plans.
 * Designs stay as they are from run to run, so what their layers need is known; the last line is without that, as
 * after a start.
 */
export async function forecasting(folder: string): Promise<(Line | string)[]> {
  const [studio, twice, fourTimes] = [1, 2, 4].map((times) => busyStudio(join(folder, `${times}.db`), times))
  const bare = new Database(studio!.file.path, { readonly: true })
  const statements = ROWS.map((text) => bare.prepare(text))
  const times = await byTurns({
    forecast: () => forecast(studio!),
    reading: () => statements.map((statement) => statement.all()),
    twice: () => forecast(twice!),
    fourTimes: () => forecast(fourTimes!),
    // what was made of rows is remembered for a file: this is another one to it
    anew: () => forecast({ ...studio!, file: { ...studio!.file } }),
  })
  const rows = statements.reduce((sum, statement) => sum + statement.all().length, 0)
  bare.close()
  for (const one of [studio!, twice!, fourTimes!]) one.file.close()
  const { orders, supplies, lots } = busy(1)
  return [
    {
      name: `forecast ${orders} orders, ${supplies} supplies, ${lots} lots (${rows} rows)`,
      value: times.forecast,
      unit: "ms",
      floor: times.reading,
      aim: { ratio: 5 },
      growth: { twice: times.twice / times.forecast, fourTimes: times.fourTimes / times.forecast },
    },
    `  the same with every design worked out anew: ${times.anew.toFixed(1)} ms, ratio ${(times.anew / times.reading).toFixed(2)}`,
  ]
}
