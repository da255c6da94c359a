import type { MovementBasis } from "../../db/tables.ts"
import { Refusal } from "../domain/refusal.ts"
import { formatAmount } from "../domain/units.ts"
import { type Act, type Actor, act, type Done } from "./act.ts"
import { BROUGHT_IN, refreshFilled, takeBackFillings } from "./brought-in.ts"
import { takeBackCosts } from "./costs.ts"
import { refreshCup } from "./cups.ts"
import { refreshBench, refreshContainer, refreshLot } from "./marks.ts"
import { containerById, leaveBench } from "./move.ts"
import { refreshPlace } from "./places.ts"
import { takeBackChanges } from "./row-change.ts"
import { stands } from "./stands.ts"
import type { Studio } from "./studio.ts"

interface ActionRow {
  id: number
  kind: string
  summary: string
  reverses_action_id: number | null
  reversed: number
}

interface MovementRow {
  id: number
  container_id: number
  amount: number
  cost_micro: number
  basis: MovementBasis
  coat_id: number | null
  source_container_id: number | null
}

/**
 * Undoes an action by one that takes back everything it wrote: amounts and cost, opened, held and bench marks,
 * cup states, changed orders, purchases, deliveries and set-up. Once only; and only while nothing that came later
 * rests on it.
 *
 * @throws {Refusal} no such action, undone before, itself an undo, or a sentence that says what stands in the way
 */
export function reverse(studio: Studio, by: Actor, actionId: number): Done<{ undone: string }> {
  return act(studio, "undo", by, { actionId }, (now) => {
    const action = now.file.firstText<ActionRow>(
      `SELECT id, kind, summary, reverses_action_id,
         EXISTS (SELECT 1 FROM action r WHERE r.reverses_action_id = a.id) AS reversed
       FROM action a WHERE id = ?`,
      [actionId],
    )
    if (!action) throw new Refusal("There is no such action to undo.", { status: 404 })
    if (action.reverses_action_id !== null)
      throw new Refusal("An undo is not undone: do the thing again instead.")
    if (action.reversed) throw new Refusal("This was undone before.")
    refuseIfLaterRestsOnIt(now, actionId)

    const allAtOnce = action.kind === BROUGHT_IN && takeBackFillings(now, actionId)
    if (!allAtOnce) takeBackMovements(now, actionId)
    takeBackCosts(now, actionId)
    takeBackChanges(now, actionId)
    // From here on the action counts as undone, so what it marked is worked out again without it.
    const touched = touchedBy(now, actionId)
    return {
      summary: `Undone: ${action.summary}`,
      answer: { undone: action.summary },
      reverses: actionId,
      afterwards: () => {
        if (allAtOnce) refreshFilled(now, actionId)
        for (const id of allAtOnce ? [] : touched.containers) refreshContainer(now, id)
        for (const id of allAtOnce ? [] : touched.places) refreshPlace(now, id)
        for (const id of touched.lots) refreshLot(now, id)
        for (const id of touched.benches) refreshBench(now, id)
        for (const id of touched.cups) refreshCup(now, id)
      },
    }
  })
}

function takeBackMovements(now: Act, actionId: number): void {
  const movements = now.file.allText<MovementRow>(
    "SELECT id, container_id, amount, cost_micro, basis, coat_id, source_container_id FROM movement WHERE action_id = ? ORDER BY id DESC",
    [actionId],
  )
  /** What a transfer's gain gave back, for its other leg: cost neither leaks nor grows. */
  const givenBack = new Map<number, number>()
  for (const movement of movements) {
    const container = containerById(now, movement.container_id)
    let cost = -movement.cost_micro
    if (movement.amount > 0) {
      if (container.amount_left < movement.amount) {
        throw new Refusal(
          `This cannot be undone: ${formatAmount(movement.amount, container.base_unit, now.units)} went into ${container.code} (${container.supply}) and ` +
            `${formatAmount(container.amount_left, container.base_unit, now.units)} are left. Undo what was taken from it first.`,
        )
      }
      const takesAll = container.amount_left === movement.amount
      cost = takesAll ? -container.cost_left_micro : -Math.min(movement.cost_micro, container.cost_left_micro)
      if (takesAll) leaveBench(now, container)
      if (movement.source_container_id !== null) givenBack.set(movement.source_container_id, -cost)
    } else {
      cost = givenBack.get(container.id) ?? cost
    }
    now.file.insert("movement", {
      action_id: now.actionId,
      container_id: container.id,
      kind: "reverse",
      amount: -movement.amount,
      cost_micro: cost,
      basis: movement.basis,
      coat_id: movement.coat_id,
      source_container_id: movement.source_container_id,
      reverses_movement_id: movement.id,
    })
  }
}

/**
 * Ids of what an action wrote about; `benches` are supplies whose place on the bench it changed, `places` containers
 * that were moved or weighed.
 */
function touchedBy(
  now: Act,
  actionId: number,
): Record<"containers" | "places" | "lots" | "benches" | "cups", number[]> {
  const ids = (text: string) => now.file.allText<{ id: number }>(text, { id: actionId }).map((row) => row.id)
  return {
    containers: ids(
      `SELECT container_id AS id FROM movement WHERE action_id = :id
       UNION SELECT container_id FROM mark WHERE action_id = :id AND container_id IS NOT NULL`,
    ),
    places: ids("SELECT container_id AS id FROM container_change WHERE action_id = :id"),
    lots: ids("SELECT lot_id AS id FROM mark WHERE action_id = :id AND lot_id IS NOT NULL"),
    benches: ids(
      `SELECT DISTINCT c.supply_id AS id FROM mark m JOIN container c ON c.id = m.container_id
       WHERE m.action_id = :id AND m.kind IN ('benched', 'unbenched')`,
    ),
    cups: ids(
      "SELECT cup_id AS id FROM cup_change WHERE action_id = :id UNION SELECT cup_id FROM cup_move WHERE action_id = :id",
    ),
  }
}

/** The movement that filled a container when it came, or when it was decanted into: without it there is none. */
const FILLED =
  "mine.id = (SELECT first.id FROM movement first WHERE first.container_id = mine.container_id ORDER BY first.id LIMIT 1)"

/**
 * Later actions that still stand and rest on this one, each as a query that gives their ids. Being taken off the
 * bench, for another bottle or by hand, rests on nothing but having been put there.
 */
const RESTING: Record<string, string> = {
  "the cups were coated or changed after it": `
    SELECT later.action_id FROM coat_cup mine_cup JOIN coat mine ON mine.id = mine_cup.coat_id
      JOIN coat_cup cc ON cc.cup_id = mine_cup.cup_id JOIN coat later ON later.id = cc.coat_id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM coat_cup mine_cup JOIN coat mine ON mine.id = mine_cup.coat_id
      JOIN cup_change later ON later.cup_id = mine_cup.cup_id AND later.state IS NOT NULL
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM cup_change mine JOIN cup_change later ON later.cup_id = mine.cup_id
    WHERE mine.action_id = :id AND later.action_id > :id
      AND (mine.state IS NOT NULL AND later.state IS NOT NULL OR mine.order_line_id IS NOT NULL AND later.order_line_id IS NOT NULL)
    UNION SELECT later.action_id FROM cup_change mine JOIN coat_cup cc ON cc.cup_id = mine.cup_id
      JOIN coat later ON later.id = cc.coat_id
    WHERE mine.action_id = :id AND mine.state IS NOT NULL AND later.action_id > :id`,
  "cups were stripped or coated again after it": `
    SELECT later.action_id FROM coat_cup mine_cup JOIN coat mine ON mine.id = mine_cup.coat_id
      JOIN strip later ON later.cup_id = mine_cup.cup_id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM cup_change mine JOIN strip later ON later.cup_id = mine.cup_id
    WHERE mine.action_id = :id AND mine.state IS NOT NULL AND later.action_id > :id
    UNION SELECT later.action_id FROM strip mine JOIN coat_cup cc ON cc.cup_id = mine.cup_id
      JOIN coat later ON later.id = cc.coat_id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM strip mine JOIN strip later ON later.cup_id = mine.cup_id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM strip mine JOIN cup_change later ON later.cup_id = mine.cup_id
    WHERE mine.action_id = :id AND later.state IS NOT NULL AND later.action_id > :id`,
  "the cups went on in another batch after it": `
    SELECT later.action_id FROM coat_cup mine_cup JOIN coat mine ON mine.id = mine_cup.coat_id
      JOIN cup_move later ON later.cup_id = mine_cup.cup_id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM cup_change mine JOIN cup_move later ON later.cup_id = mine.cup_id
    WHERE mine.action_id = :id AND mine.state IS NOT NULL AND later.action_id > :id
    UNION SELECT later.action_id FROM strip mine JOIN cup_move later ON later.cup_id = mine.cup_id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM cup_move mine JOIN cup_move later ON later.cup_id = mine.cup_id
    WHERE mine.action_id = :id AND later.action_id > :id`,
  "the cups went on with their work in that batch": `
    SELECT later.action_id FROM cup_move mine JOIN coat_cup cc ON cc.cup_id = mine.cup_id
      JOIN coat later ON later.id = cc.coat_id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM cup_move mine JOIN cup_change later ON later.cup_id = mine.cup_id
    WHERE mine.action_id = :id AND later.state IS NOT NULL AND later.action_id > :id
    UNION SELECT later.action_id FROM cup_move mine JOIN strip later ON later.cup_id = mine.cup_id
    WHERE mine.action_id = :id AND later.action_id > :id`,
  "it was measured after it": `
    SELECT later.action_id FROM coat mine JOIN coat_actual later ON later.coat_id = mine.id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM coat mine JOIN mix_left later ON later.coat_id = mine.id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM coat_actual mine JOIN coat_actual later ON later.coat_id = mine.coat_id
      AND later.supply_id = mine.supply_id
    WHERE mine.action_id = :id AND later.action_id > :id
    UNION SELECT later.action_id FROM movement mine JOIN movement later ON later.coat_id = mine.coat_id
      JOIN container mine_in ON mine_in.id = mine.container_id JOIN container later_in ON later_in.id = later.container_id
    WHERE mine.action_id = :id AND mine.kind = 'use' AND later.kind = 'use' AND later.action_id > :id
      AND later_in.supply_id = mine_in.supply_id`,
  "its mix was looked at after it": `
    SELECT later.action_id FROM coat mine JOIN mix x ON x.coat_id = mine.id JOIN mix_check later ON later.mix_id = x.id
    WHERE mine.action_id = :id AND later.action_id > :id`,
  "what came in was opened, used or moved after it": `
    SELECT later.action_id FROM movement mine JOIN movement later ON later.container_id = mine.container_id
    WHERE mine.action_id = :id AND ${FILLED} AND later.action_id > :id AND later.kind <> 'reverse'
    UNION SELECT later.action_id FROM movement mine JOIN mark later ON later.container_id = mine.container_id
    WHERE mine.action_id = :id AND ${FILLED} AND later.action_id > :id AND later.kind <> 'unbenched'`,
  "the costs of its delivery were shared out over it after it": `
    SELECT later.action_id FROM movement mine JOIN container_cost later ON later.container_id = mine.container_id
    WHERE mine.action_id = :id AND ${FILLED} AND later.action_id > :id
      AND (SELECT sum(s.share_micro) FROM container_cost s WHERE s.container_id = later.container_id) <> 0`,
  "containers were counted in it, or it was ended": `
    SELECT later.action_id FROM stocktake mine JOIN stocktake_line later ON later.stocktake_id = mine.id
    WHERE mine.action_id = :id
    UNION SELECT later.action_id FROM stocktake mine JOIN stocktake_end later ON later.stocktake_id = mine.id
    WHERE mine.action_id = :id`,
  "its count was accepted or dropped after it": `
    SELECT later.action_id FROM stocktake_line mine JOIN stocktake_end later ON later.stocktake_id = mine.stocktake_id
    WHERE mine.action_id = :id AND later.action_id > :id`,
  "it was poured on into another container after it": `
    SELECT later.action_id FROM movement mine JOIN movement later ON later.source_container_id = mine.container_id
    WHERE mine.action_id = :id AND mine.kind = 'transfer' AND mine.amount > 0 AND later.action_id > :id AND later.kind = 'transfer'`,
}

function refuseIfLaterRestsOnIt(now: Act, actionId: number): void {
  for (const [why, query] of Object.entries(RESTING)) {
    const later = now.file.allText<{ id: number; summary: string }>(
      `SELECT a.id, a.summary FROM action a WHERE a.id IN (${query}) AND a.reverses_action_id IS NULL
         AND ${stands("a.id")}
       ORDER BY a.id DESC LIMIT 3`,
      { id: actionId },
    )
    if (later.length === 0) continue
    throw new Refusal(
      `This cannot be undone while later work rests on it: ${why}. Undo first: ${later.map((a) => `“${a.summary}”`).join(", ")}.`,
      { status: 409 },
    )
  }
}
