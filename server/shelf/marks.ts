import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done, type Written } from "../ledger/act.ts"
import { markContainer, markLot, markOpened, putOnBench } from "../ledger/marks.ts"
import type { LedgerContainer } from "../ledger/move.ts"
import { type OnHand, onHand } from "../ledger/on-hand.ts"
import type { Studio } from "../ledger/studio.ts"
import { containerInAct, nameOf, refuseBeforeItCame, refuseEmpty } from "./find.ts"

/** What a change of a container answers. */
export interface Asked {
  code: string
  supplyId: number
}

/**
 * Opens a container: from the moment it happened its life after opening runs.
 *
 * @returns the day by which it is to be used now, null for none
 * @throws {Refusal} unknown, empty, or open already
 */
export function openContainer(
  studio: Studio,
  by: Actor,
  code: string,
): Done<Asked & { useBy: string | null; supply: string }> {
  return act(studio, "open", by, { code }, (now) => {
    const container = containerInAct(now, code)
    refuseEmpty(container)
    refuseBeforeItCame(now, container)
    if (!markOpened(now, container.id)) {
      throw new Refusal(`${nameOf(container)} was opened before, on ${container.opened_on}.`, { status: 409 })
    }
    const useBy = useByOf(now, container)
    return {
      summary: `Opened ${nameOf(container)}`,
      answer: { ...asked(container), supply: container.supply, useBy },
    }
  })
}

/** The day by which a container is to be used, as the ledger works it out; null for none, or for an empty one. */
export function useByOf(now: Act, container: { id: number; supply_id: number }): string | null {
  return standing(now, container)?.useBy ?? null
}

/** Whether a container, or a lot in it, is held. */
export function isHeld(now: Act, container: { id: number; supply_id: number }): boolean {
  return standing(now, container)?.held ?? false
}

/** Holds a container back: it is never proposed until released. @throws {Refusal} unknown, or held already */
export function hold(studio: Studio, by: Actor, code: string): Done<Asked> {
  return onContainer(studio, "hold", by, code, (now, container) => {
    if (isMarked(now, container, "held"))
      throw new Refusal(`${nameOf(container)} is held already.`, { status: 409 })
    markContainer(now, container.id, "held")
    return `Held ${nameOf(container)}`
  })
}

/** Lets a held container be used again. @throws {Refusal} unknown, not held, or held with its whole lot */
export function release(studio: Studio, by: Actor, code: string): Done<Asked> {
  return onContainer(studio, "release", by, code, (now, container) => {
    if (!isMarked(now, container, "held")) {
      throw new Refusal(`${nameOf(container)} is not held by itself; if its lot is held, release the lot.`, {
        status: 409,
      })
    }
    markContainer(now, container.id, "released")
    return `Released ${nameOf(container)}`
  })
}

/**
 * Puts a container on the bench, in place of the other of its supply that was there: coats are assumed to come
 * from it.
 *
 * @throws {Refusal} unknown, empty, held, or there already
 */
export function bench(studio: Studio, by: Actor, code: string): Done<Asked> {
  return onContainer(studio, "bench", by, code, (now, container) => {
    refuseEmpty(container)
    if (isMarked(now, container, "on_bench")) {
      throw new Refusal(`${nameOf(container)} is on the bench already.`, { status: 409 })
    }
    if (isHeld(now, container)) {
      throw new Refusal(`${nameOf(container)} is held. Release it first, if it may be used.`)
    }
    putOnBench(now, container.id)
    return `Put ${nameOf(container)} on the bench`
  })
}

/** Takes a container off the bench. @throws {Refusal} unknown, or not there */
export function unbench(studio: Studio, by: Actor, code: string): Done<Asked> {
  return onContainer(studio, "unbench", by, code, (now, container) => {
    if (!isMarked(now, container, "on_bench")) {
      throw new Refusal(`${nameOf(container)} is not on the bench.`, { status: 409 })
    }
    markContainer(now, container.id, "unbenched")
    return `Took ${nameOf(container)} off the bench`
  })
}

/** Holds every container of a lot, and what was topped up from it. @throws {Refusal} unknown, or held already */
export function holdLot(studio: Studio, by: Actor, lotId: number): Done<{ lotId: number }> {
  return onLot(studio, by, lotId, "held")
}

/** Lets a lot be used again; containers held by themselves stay held. @throws {Refusal} unknown, or not held */
export function releaseLot(studio: Studio, by: Actor, lotId: number): Done<{ lotId: number }> {
  return onLot(studio, by, lotId, "released")
}

function onLot(studio: Studio, by: Actor, lotId: number, kind: "held" | "released"): Done<{ lotId: number }> {
  return act(
    studio,
    kind === "held" ? "hold" : "release",
    by,
    { lotId },
    (now): Written<{ lotId: number }> => {
      const lot = now.file.firstText<{ number: string | null; supply: string; held: number }>(
        "SELECT l.number, s.name AS supply, l.held FROM lot l JOIN supply s ON s.id = l.supply_id WHERE l.id = ?",
        [lotId],
      )
      if (!lot) throw new Refusal("There is no such lot.", { status: 404 })
      const name =
        lot.number === null
          ? `the lot of ${lot.supply} without a number`
          : `lot ${lot.number} of ${lot.supply}`
      if ((lot.held === 1) === (kind === "held")) {
        throw new Refusal(
          `${name.charAt(0).toUpperCase()}${name.slice(1)} is ${kind === "held" ? "held already" : "not held"}.`,
          {
            status: 409,
          },
        )
      }
      markLot(now, lotId, kind)
      return { summary: `${kind === "held" ? "Held" : "Released"} ${name}`, answer: { lotId } }
    },
  )
}

/** One mark on one container, as one action. `work` returns the sentence for the history. */
function onContainer(
  studio: Studio,
  kind: string,
  by: Actor,
  code: string,
  work: (now: Act, container: LedgerContainer) => string,
): Done<Asked> {
  return act(studio, kind, by, { code }, (now) => {
    const container = containerInAct(now, code)
    refuseBeforeItCame(now, container)
    return { summary: work(now, container), answer: asked(container) }
  })
}

function standing(now: Act, container: { id: number; supply_id: number }): OnHand | undefined {
  const mine = onHand(now.file, now.timeZone, container.supply_id)
  return mine.find((one) => one.containerId === container.id)
}

function asked(container: LedgerContainer): Asked {
  return { code: container.code, supplyId: container.supply_id }
}

function isMarked(now: Act, container: LedgerContainer, column: "held" | "on_bench"): boolean {
  const row = now.file.firstText<{ held: number; on_bench: number }>(
    "SELECT held, on_bench FROM container WHERE id = ?",
    [container.id],
  )
  return row?.[column] === 1
}
