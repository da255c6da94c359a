import { join } from "node:path"
import { Temporal } from "temporal-polyfill"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { designs } from "../../server/designs/service.ts"
import { plusDays } from "../../server/domain/dates.ts"
import { type Job, mostCupsTogether, type Shop, schedule, splitCups } from "../../server/domain/schedule.ts"
import { ShopBench } from "../../server/domain/shop-bench.ts"
import { type LineJobs, planWork } from "../../server/domain/work-plan.ts"
import { forecast, whatIf } from "../../server/forecast/service.ts"
import { todayOf } from "../../server/ledger/studio.ts"
import { bestLastReady } from "../support/best-schedule.ts"
import { smallShop } from "../support/small-shops.ts"
import { byTurns, type Line } from "./measure.ts"

const ORDERS = 500
const CUPS = 10
const DAYS = 365
const SMALL_CASES = 150

/** Somebody works a long day, and a year's orders just fit: so there is much to look past. */
const SHOP: Shop = {
  hours: { opensMin: 480, closesMin: 1200, weekdaysOff: [7], daysOff: [] },
  today: "2026-12-01",
  nowMin: 600,
  turnerPlaces: 24,
  scuffMin: 5,
}

/** Prime, base, glitter coat, seal coat, final coat: minutes a cup, on the turner, until the next may and must go on. */
const LAYERS = [
  [4, 0, 0, null],
  [5, 30, 120, null],
  [8, 360, 720, 2_880],
  [6, 360, 720, 2_880],
  [8, 480, 0, null],
] as const

/** Planning a year of orders; a changed question on the demo; how far the plain rule is from the best plan. */
export async function scheduling(folder: string): Promise<Line[]> {
  return [...(await planning()), await changing(folder), ...excess()]
}

async function planning(): Promise<Line[]> {
  const [one, twice, fourTimes] = [1, 2, 4].map(aYear)
  const { steps } = plan(one!)
  const times = await byTurns(
    {
      plan: () => plan(one!),
      written: () => new ShopBench(SHOP).take(steps),
      twice: () => plan(twice!),
      fourTimes: () => plan(fourTimes!),
    },
    7,
  )
  return [
    {
      name: `plan ${ORDERS} orders, ${ORDERS * CUPS} cups, ${DAYS} days (${steps.length} layers)`,
      value: times.plan,
      unit: "ms",
      floor: times.written,
      aim: { value: 250 },
      growth: { twice: times.twice / times.plan, fourTimes: times.fourTimes / times.plan },
    },
  ]
}

function plan(lines: readonly LineJobs[]) {
  return planWork([], lines, { ...SHOP }, 2)
}

/** @param times orders grow, and with them the shop's year stays as it is: they get smaller */
function aYear(times: number): LineJobs[] {
  const steps = LAYERS.map(([handsOnMin, turnerMin, recoatEarliestMin, recoatLatestMin], index) => ({
    position: index + 1,
    name: `layer ${index + 1}`,
    handsOnMin: handsOnMin / times,
    turnerMin: Math.ceil(turnerMin / times),
    recoatEarliestMin,
    recoatLatestMin,
  }))
  const most = mostCupsTogether(steps, SHOP)
  let id = 0
  return Array.from({ length: ORDERS * times }, (_, line) => ({
    lineId: line + 1,
    dueMin: 1440 * (12 + Math.floor((line * (DAYS - 12)) / (ORDERS * times))) + SHOP.hours.closesMin,
    waits: true,
    jobs: splitCups(CUPS, most).map(
      (cups): Job => ({ id: ++id, cups, steps, fullCureMin: 4_320, priority: line }),
    ),
  }))
}

/** One number changed in a question on the demo: the answer without and with it, and at the earliest. */
async function changing(folder: string): Promise<Line> {
  const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
  const studio = { file: openStudioFile(join(folder, "demo.db")), now: () => now }
  loadDemo(studio.file, now)
  const [design] = designs(studio)
  let quantity = 20
  const times = await byTurns({
    change: () => {
      quantity = quantity === 40 ? 20 : quantity + 1
      const dueOn = plusDays(todayOf(studio), 20)
      return whatIf(studio, [{ designId: design!.designId, quantity, dueOn }])
    },
    forecast: () => forecast(studio),
  })
  studio.file.close()
  return {
    name: "what if: one number changed, on the demo",
    value: times.change,
    unit: "ms",
    floor: times.forecast,
    aim: { value: 100 },
  }
}

/** When the last cup is ready, against the best of all plans, on small cases where all of them can be tried. */
function excess(): Line[] {
  const cases = Array.from({ length: SMALL_CASES }, (_, seed) => {
    const { shop, jobs } = smallShop(seed + 1)
    const ready = [...schedule(jobs, shop).readyMin.values()]
    return {
      planned: Math.max(...ready.map((at) => at ?? Number.POSITIVE_INFINITY)) / 60,
      best: bestLastReady(jobs, shop) / 60,
    }
  })
  const mean = (of: (one: (typeof cases)[number]) => number) =>
    cases.reduce((sum, one) => sum + of(one), 0) / cases.length
  const worst = cases.reduce((a, b) => (b.planned / b.best > a.planned / a.best ? b : a))
  return [
    {
      name: `last cup ready, mean of ${SMALL_CASES} small cases, to the best plan`,
      value: mean((one) => one.planned),
      unit: "h",
      floor: mean((one) => one.best),
      aim: { ratio: 1.1 },
    },
    {
      name: "the same, the worst of them",
      value: worst.planned,
      unit: "h",
      floor: worst.best,
      aim: { ratio: 2 },
    },
  ]
}
