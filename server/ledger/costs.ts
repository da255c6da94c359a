import type { Act } from "./act.ts"

interface Standing {
  amount_left: number
  cost_left_micro: number
  /** all that it was filled with when it came */
  received: number
}

const STANDING = `SELECT c.amount_left, c.cost_left_micro,
    coalesce((SELECT sum(m.amount) FROM movement m WHERE m.container_id = c.id AND m.kind = 'receive'), 0) AS received
  FROM container c WHERE c.id = ?`

/**
 * Gives a container its part of its delivery's costs: what is still in it carries its share of the part from now
 * on; the rest is of what was taken before, whose movements stay as they are written.
 *
 * @param shareMicro its part, above zero
 */
export function shareCost(act: Act, containerId: number, shareMicro: number): void {
  const { amount_left, received } = standingOf(act, containerId)
  write(act, containerId, shareMicro, partOf(shareMicro, amount_left, received))
}

/**
 * Takes back all that a container was given of its delivery's costs, as far as it still carries it: what was taken
 * since took its part along.
 */
export function takeBackShare(act: Act, containerId: number): void {
  const rows = act.file.allText<{ share_micro: number; kept_micro: number; action_id: number }>(
    "SELECT share_micro, kept_micro, action_id FROM container_cost WHERE container_id = ? ORDER BY id DESC",
    [containerId],
  )
  // given and taken back by turns: what stands is the last, and only that may still be carried
  const [last] = rows
  const stands = rows.reduce((sum, row) => sum + row.share_micro, 0)
  if (!last || stands === 0) return
  write(act, containerId, -stands, keptBack(act, containerId, -last.kept_micro, last.action_id))
}

/** Undoes what an action shared out or took back. */
export function takeBackCosts(act: Act, actionId: number): void {
  const rows = act.file.allText<{ container_id: number; share_micro: number; kept_micro: number }>(
    "SELECT container_id, share_micro, kept_micro FROM container_cost WHERE action_id = ? ORDER BY id",
    [actionId],
  )
  for (const row of rows) {
    const kept = keptBack(act, row.container_id, -row.kept_micro, actionId)
    write(act, row.container_id, -row.share_micro, kept)
  }
}

/** Of what was put on the cost of a container by an action, the part that what is left of it then still carries. */
function keptBack(act: Act, containerId: number, keptMicro: number, actionId: number): number {
  const { amount_left, cost_left_micro } = standingOf(act, containerId)
  const then = act.file.firstText<{ amount: number }>(
    "SELECT coalesce(sum(amount), 0) AS amount FROM movement WHERE container_id = ? AND action_id < ?",
    [containerId, actionId],
  )
  return Math.max(-cost_left_micro, partOf(keptMicro, amount_left, then?.amount ?? 0))
}

/** Rounded towards nothing. The product runs past 2⁵³. */
function partOf(micro: number, amount: number, whole: number): number {
  if (amount === 0 || whole <= 0) return 0
  if (amount >= whole) return micro
  return Number((BigInt(micro) * BigInt(amount)) / BigInt(whole))
}

function standingOf(act: Act, containerId: number): Standing {
  const found = act.file.firstText<Standing>(STANDING, [containerId])
  if (!found) throw new Error(`there is no container ${containerId}`)
  return found
}

function write(act: Act, containerId: number, shareMicro: number, keptMicro: number): void {
  act.file.insert("container_cost", {
    action_id: act.actionId,
    container_id: containerId,
    share_micro: shareMicro,
    // the computer's zero has a sign
    kept_micro: keptMicro + 0,
  })
}
