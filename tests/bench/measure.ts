import { setImmediate } from "node:timers/promises"

/** One line of the output: what was measured, against what, and how it grows. */
export interface Line {
  name: string
  value: number
  unit: "ms" | "MB" | "h"
  /** the same with as little as it could be done with */
  floor: number
  /** the most that is wanted: a ratio to the floor, or a value */
  aim: { ratio: number } | { value: number }
  /** value at twice and at four times the size ÷ value */
  growth?: { twice: number; fourTimes: number }
}

/**
 * `name  value unit  floor value  ratio` with the growth at ×2 and ×4 and what is aimed at. Met or not is decided
 * by what was measured, not by what is printed.
 */
export function said(line: Line): string {
  const ratio = line.value / line.floor
  const met = "ratio" in line.aim ? ratio <= line.aim.ratio : line.value < line.aim.value
  const aim = "ratio" in line.aim ? `aim ≤ ${line.aim.ratio}` : `aim < ${line.aim.value} ${line.unit}`
  return [
    line.name.padEnd(58),
    `${figure(line.value)} ${line.unit}`.padStart(10),
    `floor ${figure(line.floor)}`.padStart(12),
    `ratio ${ratio.toFixed(2)}`.padStart(11),
    line.growth
      ? `×2 ${line.growth.twice.toFixed(2)}  ×4 ${line.growth.fourTimes.toFixed(2)}`
      : " ".repeat(16),
    `${aim}${met ? "" : "  MISSED"}`,
  ].join("  ")
}

function figure(value: number): string {
  return value >= 100 ? value.toFixed(0) : value >= 10 ? value.toFixed(1) : value.toFixed(2)
}

/** The middle one. */
export function median(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b)
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2
}

/**
 * CPU time of this process, user and system, while `work` runs, in ms. Waiting for a disk does not count; the
 * garbage that `work` leaves behind counts as far as it is collected meanwhile.
 */
export function cpuMs(work: () => void): number {
  const before = process.cpuUsage()
  work()
  const { user, system } = process.cpuUsage(before)
  return (user + system) / 1000
}

/**
 * Medians of several works that only read, run by turns so that a slow moment of the machine meets all of them.
 * Each run repeats its work until there is something to measure.
 */
export async function byTurns<Name extends string>(
  works: Record<Name, () => unknown>,
  runs = 15,
): Promise<Record<Name, number>> {
  const entries = Object.entries<() => unknown>(works)
  const repeats = new Map<string, number>()
  for (const [name, work] of entries) {
    const once = median(Array.from({ length: 9 }, () => cpuMs(work)))
    repeats.set(name, Math.max(1, Math.min(500, Math.ceil(10 / Math.max(once, 0.01)))))
  }
  const times = new Map<string, number[]>(entries.map(([name]) => [name, []]))
  for (let run = 0; run < runs; run++) {
    for (const [name, work] of entries) {
      const times10 = repeats.get(name)!
      const all = cpuMs(() => {
        for (let i = 0; i < times10; i++) work()
      })
      times.get(name)!.push(all / times10)
      await setImmediate()
    }
  }
  return Object.fromEntries(entries.map(([name]) => [name, median(times.get(name)!)])) as Record<Name, number>
}
