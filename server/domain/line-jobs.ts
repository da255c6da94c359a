import { recoatWindow } from "./after-layer.ts"
import { inOrder } from "./layers.ts"
import type { Plan } from "./plan.ts"
import { type Job, mostCupsTogether, type Shop, type StepTimes, splitCups } from "./schedule.ts"
import type { Work } from "./work.ts"

const stepsKnown = new WeakMap<Plan, readonly StepTimes[]>()

/** The layers of a plan in time, for one cup. */
export function stepTimes(plan: Plan): readonly StepTimes[] {
  let steps = stepsKnown.get(plan)
  if (!steps) {
    steps = inOrder(plan.layers).map((layer) => {
      const { earliestMin, latestMin } = recoatWindow(layer)
      return {
        position: layer.position,
        name: layer.name,
        handsOnMin: layer.handsOnMin,
        turnerMin: layer.turnerMin,
        recoatEarliestMin: earliestMin,
        recoatLatestMin: latestMin,
      }
    })
    stepsKnown.set(plan, steps)
  }
  return steps
}

const leftKnown = new WeakMap<Plan, Map<number, readonly StepTimes[]>>()

/** The steps that are left after so many layers: the same list each time, so that jobs alike are known as alike. */
function stepsAfter(plan: Plan, layersDone: number): readonly StepTimes[] {
  const known = leftKnown.get(plan) ?? new Map<number, readonly StepTimes[]>()
  leftKnown.set(plan, known)
  let left = known.get(layersDone)
  if (!left) {
    left = stepTimes(plan).filter((step) => step.position > layersDone)
    known.set(layersDone, left)
  }
  return left
}

/** Cups of one work that go through together; `layersDone` of them all. */
export interface WorkJob {
  job: Job
  layersDone: number
}

/**
 * The jobs of a work: cups that have the same layers stay together, in as few jobs as turner places and the day's
 * hours allow, all of about the same size.
 *
 * @param idFrom gives each job its id
 * @returns null when not even one cup fits: a layer takes longer than a working day, or nothing can turn
 */
export function jobsOf(work: Work, shop: Shop, priority: number, idFrom: () => number): WorkJob[] | null {
  const jobs: WorkJob[] = []
  const times = stepTimes(work.plan)
  for (const { layersDone, count, coated } of work.cups) {
    if (count === 0) continue
    const steps = stepsAfter(work.plan, layersDone)
    const most = mostCupsTogether(steps, shop)
    if (most < 1) return null
    const last = times.findLast((step) => step.position <= layersDone)
    const underWay =
      last && coated
        ? {
            ...recoatAt(last, coated),
            turnsUntilMin: last.turnerMin === 0 ? 0 : coated.lastMin + last.turnerMin,
          }
        : null
    for (const cups of splitCups(count, most)) {
      jobs.push({
        layersDone,
        job: {
          id: idFrom(),
          cups,
          // what has all its layers only cures
          steps,
          fullCureMin: work.plan.fullCureMin,
          priority,
          ...(underWay ? { underWay: cured(underWay, steps, work.plan, coated?.lastMin ?? 0) } : {}),
        },
      })
    }
  }
  return jobs
}

/** When the next coat may and must go on over their last layer. */
function recoatAt(
  last: StepTimes,
  { firstMin, lastMin, recoat }: NonNullable<Work["cups"][number]["coated"]>,
): { mayFromMin: number; mustByMin: number | null } {
  const earliestMin = recoat ? recoat.earliestMin : last.recoatEarliestMin
  const latestMin = recoat ? recoat.latestMin : last.recoatLatestMin
  return { mayFromMin: lastMin + earliestMin, mustByMin: latestMin === null ? null : firstMin + latestMin }
}

/** Cups that have all their layers may be used after their full cure. */
function cured(
  underWay: NonNullable<Job["underWay"]>,
  steps: readonly StepTimes[],
  plan: Plan,
  coatedMin: number,
): NonNullable<Job["underWay"]> {
  if (steps.length > 0) return underWay
  return { ...underWay, mayFromMin: Math.max(underWay.turnsUntilMin, coatedMin + plan.fullCureMin) }
}
