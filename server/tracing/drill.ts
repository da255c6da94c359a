import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { type LotTrace, type TracedCup, traceLot } from "./lot.ts"
import { balanceOf, type LotBalance } from "./suspect.ts"

/** "Trace this lot in under a minute." */
export const A_MINUTE_S = 60
/** A page left open longer than this was not a drill. */
const LONGEST_S = 24 * 3600

/** How far a lot can be traced: 100 %, or the reason why not. */
export interface Traced {
  cups: number
  /** cups of which it is known where they are: in the studio, scrapped, or with a buyer that can be written to */
  traced: number
  /** cups that left for nobody that is known */
  lost: TracedCup[]
  balance: LotBalance
  /** of what came, the share that is accounted for: 0 to 1; what counts found too much is unexplained too */
  accounted: number
}

/** What can be said of a lot in a drill. */
export function tracedOf(studio: Studio, trace: LotTrace): Traced {
  const lost = trace.cups.filter((cup) => cup.state === "sent" && cup.buyer === null)
  const balance = balanceOf(studio, trace)
  return {
    cups: trace.cups.length,
    traced: trace.cups.length - lost.length,
    lost,
    balance,
    accounted: balance.came === 0 ? 1 : Math.max(0, 1 - Math.abs(balance.unexplained) / balance.came),
  }
}

/** A drill as it was done. */
export interface Drill {
  actionId: number
  on: IsoDate
  lotId: number
  supply: string
  number: string | null
  seconds: number
  cups: number
  traced: number
  accounted: number
}

/**
 * Writes down that a lot was traced, how long it took and how far it could be.
 *
 * @param input.startedAt when the clock started, an ISO instant
 * @throws {Refusal} no such lot; a clock that starts later than now, or ran for a day
 */
export function finishDrill(
  studio: Studio,
  by: Actor,
  input: { lotId: number; startedAt: string },
): Done<Omit<Drill, "actionId" | "on">> {
  return act(studio, "drill", by, input, () => {
    const seconds = (studio.now().epochMilliseconds - Date.parse(input.startedAt)) / 1000
    if (!(seconds >= 0 && seconds <= LONGEST_S))
      throw new Refusal("That clock does not run right. Open the page anew.", { field: "startedAt" })
    const trace = traceLot(studio, input.lotId)
    const { cups, traced, accounted } = tracedOf(studio, trace)
    const { supply, number } = trace
    const said = traced === cups ? `all ${cups} cups` : `${traced} of ${cups} cups`
    return {
      summary: `Practised: traced ${supply}, lot ${number ?? "without a number"}, to ${said} in ${seconds.toFixed(0)} s`,
      answer: { lotId: input.lotId, supply, number, seconds, cups, traced, accounted },
    }
  })
}

/** Drills that stand, the latest first. */
export function drills({ file }: Studio, most = 12): Drill[] {
  return file
    .allText<{ actionId: number; on: IsoDate; answer: string }>(
      `SELECT a.id AS actionId, a.happened_on AS "on", a.answer FROM action a
       WHERE a.kind = 'drill' AND ${stands("a.id")} ORDER BY a.id DESC LIMIT ?`,
      [most],
    )
    .map(({ actionId, on, answer }) => ({
      actionId,
      on,
      ...(JSON.parse(answer) as Omit<Drill, "actionId" | "on">),
    }))
}

/** The lot to drill with: resin or hardener that went onto cups, the one that was drilled longest ago, or never. */
export function lotToDrill({ file }: Studio): number | null {
  const found = file.firstText<{ id: number }>(
    `SELECT l.id, (SELECT max(a.id) FROM action a WHERE a.kind = 'drill' AND json_extract(a.answer, '$.lotId') = l.id
         AND ${stands("a.id")}) AS drilled
     FROM lot l JOIN supply s ON s.id = l.supply_id WHERE s.kind IN ('resin', 'hardener')
       AND EXISTS (SELECT 1 FROM container_lot t JOIN movement m ON m.container_id = t.container_id
         WHERE t.lot_id = l.id AND m.kind = 'use' AND m.id > t.movement_id)
     ORDER BY drilled IS NOT NULL, drilled, l.id DESC LIMIT 1`,
  )
  return found?.id ?? null
}
