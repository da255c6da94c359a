import type { Job, Shop } from "../../server/domain/schedule.ts"

interface Placed {
  start: number
  handsOff: number
  turned: number
  cups: number
}

const SLOT = 5
const slots = (minutes: number) => Math.ceil(minutes / SLOT)

/**
 * The earliest at which all jobs can be ready, found by trying every order in which their layers can be placed, each
 * as early as it then may be. Written apart from the planner, minute by minute and without its tricks; for few jobs
 * only. Without scuffing: give it jobs whose coats have no latest.
 *
 * Some order of placing always gives a best plan, since what is ready earlier is never worse (R. Kolisch, "Serial and
 * parallel resource-constrained project scheduling methods revisited", European Journal of Operational Research 90,
 * 1996; cited from memory).
 */
export function bestLastReady(jobs: readonly Job[], shop: Shop): number {
  let best = Number.POSITIVE_INFINITY
  const place = (
    placed: readonly Placed[],
    done: readonly number[],
    may: readonly number[],
    ready: number,
  ) => {
    if (ready >= best) return
    let isWhole = true
    for (const [index, job] of jobs.entries()) {
      const step = job.steps[done[index] ?? 0]
      if (!step) continue
      isWhole = false
      const work = slots(step.handsOnMin * job.cups)
      const turn = step.turnerMin > 0 ? slots(step.turnerMin) : 0
      let start = may[index] ?? 0
      while (
        !fits(
          placed,
          { start, handsOff: start + work, turned: start + work + turn, cups: turn > 0 ? job.cups : 0 },
          shop,
        )
      )
        start += 1
      const handsOff = start + work
      const isLast = (done[index] ?? 0) === job.steps.length - 1
      const until = Math.max(
        handsOff + turn,
        handsOff + slots(isLast ? job.fullCureMin : step.recoatEarliestMin),
      )
      place(
        [...placed, { start, handsOff, turned: handsOff + turn, cups: turn > 0 ? job.cups : 0 }],
        done.map((n, at) => (at === index ? n + 1 : n)),
        may.map((slot, at) => (at === index ? until : slot)),
        Math.max(ready, until),
      )
    }
    if (isWhole) best = ready
  }
  place(
    [],
    jobs.map(() => 0),
    jobs.map(() => slots(shop.nowMin)),
    0,
  )
  return best * SLOT
}

function fits(placed: readonly Placed[], one: Placed, shop: Shop): boolean {
  const { hours } = shop
  if (one.handsOff > one.start) {
    const day = Math.floor((one.start * SLOT) / 1440)
    const opens = Math.ceil(hours.opensMin / SLOT)
    const closes = Math.floor(hours.closesMin / SLOT)
    if (one.start < day * 288 + opens || one.handsOff > day * 288 + closes) return false
    // the first day of these cases is a Tuesday
    if (hours.weekdaysOff.includes(((1 + day) % 7) + 1)) return false
    if (placed.some((other) => other.handsOff > one.start && other.start < one.handsOff)) return false
  }
  if (one.cups === 0) return true
  for (let slot = one.start; slot < one.turned; slot++) {
    const turning = placed.reduce(
      (sum, other) => sum + (other.start <= slot && slot < other.turned ? other.cups : 0),
      0,
    )
    if (turning + one.cups > shop.turnerPlaces) return false
  }
  return true
}
