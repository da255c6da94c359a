import type { Job, Shop } from "../../server/domain/schedule.ts"

/** Numbers that look like chance and are the same each time (a linear congruential generator, Numerical Recipes). */
export function chanceFrom(seed: number): (below: number) => number {
  let state = seed >>> 0
  return (below) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return Math.floor((state / 2 ** 32) * below)
  }
}

/** A small shop with two or three jobs of two layers each, small enough to try every plan. */
export function smallShop(seed: number): { shop: Shop; jobs: Job[] } {
  const chance = chanceFrom(seed)
  const shop: Shop = {
    hours: {
      opensMin: 540,
      closesMin: 540 + 60 * (3 + chance(5)),
      weekdaysOff: [6, 7].slice(chance(3)),
      daysOff: [],
    },
    today: "2026-12-01",
    nowMin: 540,
    turnerPlaces: 2 + chance(4),
    scuffMin: 0,
  }
  const jobs = Array.from({ length: 2 + chance(2) }, (_, id) => ({
    id,
    cups: 1 + chance(shop.turnerPlaces),
    priority: 0,
    fullCureMin: 60 * chance(72),
    steps: [1, 2].map((position) => ({
      position,
      name: `layer ${position}`,
      handsOnMin: 5 * (1 + chance(4)),
      turnerMin: chance(3) === 0 ? 0 : 60 * (1 + chance(10)),
      recoatEarliestMin: 60 * chance(16),
      recoatLatestMin: null,
    })),
  }))
  return { shop, jobs }
}
