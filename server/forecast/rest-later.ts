import { daysBetween, type IsoDate, plusDays } from "../domain/dates.ts"
import { forecast as compute, type ForecastInput, type OpenLine } from "../domain/forecast.ts"
import { dayAt, planned } from "../domain/forecast-parts.ts"

/** A line that is begun in two parts. */
export interface TwoParts {
  /** cups of both that are in time */
  able: number
  /** when the last of them are ready */
  readyOn: IsoDate
}

/**
 * A line in two parts: as many cups as the shelf reaches for are begun at once, and of the rest as many as can still be
 * in time on the day everything is here. A plan of the whole line may have put those before that day.
 *
 * The largest such rest is found by halving over the plan alone, which costs little; whether the first part then has
 * all it needs, one more forecast says.
 *
 * @param input with what would come among what is expected
 * @param line typed in, so that nothing of it is begun and it has the highest id of all
 * @param able cups that the shelf reaches for, fewer than there are
 * @returns null: nothing of the rest is in time
 */
export function restLater(
  input: ForecastInput,
  line: OpenLine,
  able: number,
  hereOn: IsoDate,
): TwoParts | null {
  const { today, shippingDays } = input
  const { plan } = line.work[0]!
  const all = line.work.reduce((sum, { cups }) => sum + cups.reduce((n, group) => n + group.count, 0), 0)
  const part = (lineId: number, count: number): OpenLine => ({
    ...line,
    lineId,
    work: [{ plan, cups: [{ layersDone: 0, count }] }],
  })
  const restId = line.lineId + 1
  const firstAtOnce = { ...input, atOnce: new Set([line.lineId]) }
  const linesWith = (rest: number) =>
    [
      ...input.lines.filter(({ lineId }) => lineId !== line.lineId),
      ...(able > 0 ? [{ ...part(line.lineId, able), spareCups: 0 }] : []),
      part(restId, rest),
    ].sort((a, b) => (a.dueOn < b.dueOn ? -1 : a.dueOn > b.dueOn ? 1 : a.lineId - b.lineId))
  const readyWith = (rest: number): IsoDate | null => {
    const readyMin = planned(firstAtOnce, linesWith(rest)).plan.readyFrom(
      restId,
      1440 * daysBetween(today, hereOn),
    )
    return readyMin === null ? null : dayAt(input, readyMin)
  }
  const inTime = (readyOn: IsoDate | null) =>
    readyOn !== null && plusDays(readyOn, shippingDays) <= line.dueOn

  let most = 0
  let readyOn: IsoDate | null = null
  let tooMany = all - able + 1
  // all of the rest first: most often it is that or little
  for (let rest = tooMany - 1; tooMany - most > 1; rest = (most + tooMany) >>> 1) {
    const ready = readyWith(rest)
    if (inTime(ready)) {
      most = rest
      readyOn = ready
    } else tooMany = rest
  }
  if (readyOn === null) return null
  if (able === 0) return { able: most, readyOn }
  const first = compute({ ...firstAtOnce, lines: linesWith(most) }).lines.find(
    ({ lineId }) => lineId === line.lineId,
  )
  if (!first?.plannedOn) return null
  return {
    able: Math.min(first.covered, first.inTime) + most,
    readyOn: first.plannedOn > readyOn ? first.plannedOn : readyOn,
  }
}
