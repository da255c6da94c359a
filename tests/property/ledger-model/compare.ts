import { expect } from "vitest"
import { batchProgress } from "../../../server/batches/service.ts"
import { onHand } from "../../../server/ledger/on-hand.ts"
import { traceCup, traceLot } from "../../../server/tracing/service.ts"
import { type Cup, dayOf } from "./book.ts"
import type { Shop } from "./shop.ts"

/** Sets the program's file beside the oracle: every container, lot, cup and trace, and the file's own rules. */
export function compare(shop: Shop): void {
  compareBottles(shop)
  compareLots(shop)
  compareCups(shop)
  compareCosts(shop)
  keepsItsOwnRules(shop)
}

function compareBottles({ studio, book }: Shop): void {
  const kept = studio.file.allText(
    "SELECT code, amount_left, cost_left_micro, opened_at, opened_on, held, on_bench FROM container ORDER BY id",
  )
  expect(kept, "containers").toEqual(
    [...book.bottles.values()].map((bottle) => {
      const opened = book.openedAt(bottle.code)
      return {
        code: bottle.code,
        amount_left: bottle.amount,
        cost_left_micro: bottle.costMicro,
        opened_at: opened,
        opened_on: opened === null ? null : dayOf(opened),
        held: book.heldItself(bottle.code) ? 1 : 0,
        on_bench: book.onBench(bottle.supplyId) === bottle.code ? 1 : 0,
      }
    }),
  )
  const usable = onHand(studio.file, "America/Phoenix").map(({ code, useBy, held }) => ({
    code,
    useBy,
    held,
  }))
  const there = [...book.bottles.values()].filter((bottle) => bottle.amount > 0)
  expect(usable, "use-by and held, what was poured in counted").toEqual(
    there.map(({ code }) => ({ code, useBy: book.useBy(code), held: book.isHeld(code) })),
  )
}

function compareLots({ studio, book }: Shop): void {
  /** by bottle: the shares of all lots in it */
  const shares = new Map<string, number>()
  for (const lot of book.lots.values()) {
    const traced = traceLot(studio, lot.id)
    for (const { code, amountOfLot } of traced.containers)
      shares.set(code, (shares.get(code) ?? 0) + amountOfLot)
    const inside = [...book.bottles.values()].filter((bottle) => book.lotsIn(bottle.code).has(lot.id))
    expect(
      {
        held: traced.held,
        expiresOn: traced.expiresOn,
        amountLeft: traced.amountLeft,
        // a lot alone in a bottle is all of it; how lots that were poured together share it is tried elsewhere
        alone: traced.containers
          .filter(({ code }) => book.lotsIn(code).size === 1)
          .reduce((sum, one) => sum + one.amountOfLot, 0),
        containers: [...new Set(traced.containers.map((one) => one.code))].sort(),
        cups: traced.cups.map((cup) => cup.serial),
      },
      `trace of lot ${lot.id} (${lot.number})`,
    ).toEqual({
      held: book.lotHeld(lot.id),
      expiresOn: lot.expiresOn,
      amountLeft: traced.containers.reduce((sum, one) => sum + one.amountOfLot, 0),
      alone: inside
        .filter((bottle) => book.lotsIn(bottle.code).size === 1)
        .reduce((sum, bottle) => sum + bottle.amount, 0),
      containers: inside.map((bottle) => bottle.code).sort(),
      cups: book.cupsWithLot(lot.id),
    })
  }
  expect(
    [...shares].filter(([, amount]) => amount !== 0).sort(),
    "the lots in a bottle share all of it",
  ).toEqual(
    [...book.bottles.values()]
      .filter((bottle) => bottle.amount > 0)
      .map((bottle) => [bottle.code, bottle.amount])
      .sort(),
  )
}

function compareCups(shop: Shop): void {
  const { studio, book } = shop
  for (const batchId of book.batches) {
    const cups = book.cupsOf(batchId)
    expect(
      batchProgress(studio, batchId).cups.map(({ serial, state, layersDone }) => ({
        serial,
        state,
        layersDone,
      })),
      `cups of batch ${batchId}`,
    ).toEqual(
      cups.map(({ id, serial }) => ({ serial, state: book.cupState(id), layersDone: book.layersDone(id) })),
    )
    for (const cup of cups) compareTrace(shop, cup)
  }
}

/** Which of a coat's whole pieces a cup got is not known, only how many: their containers are a choice of the coat's. */
function compareTrace({ studio, book, pieces }: Shop, cup: Cup): void {
  const told = new Set<string>()
  for (const { position, coats } of traceCup(studio, cup.serial).layers) {
    for (const use of coats.flatMap((coat) => coat.uses)) {
      // a lot may have come in more than one way
      const lots = [...new Set(use.lots.map((lot) => lot.lotId))].sort((a, b) => a - b)
      told.add(`layer ${position}: ${use.container} with lots ${lots}`)
    }
  }
  const sure = new Set<string>()
  const possible = new Set<string>()
  for (const { deed, coat } of book.coatsOn(cup.id)) {
    for (const { code } of coat.draws) {
      const lots = [...book.lotsIn(code, deed.id)].sort((a, b) => a - b)
      const line = `layer ${coat.layer}: ${code} with lots ${lots}`
      possible.add(line)
      if (!pieces.has(book.bottle(code).supplyId)) sure.add(line)
    }
  }
  const sorted = (lines: Iterable<string>) => [...lines].sort()
  expect(sorted(told), `trace of cup ${cup.serial}`).toEqual(
    sorted([...possible].filter((line) => sure.has(line) || told.has(line))),
  )
}

/** What the cups cost is what their coats took off the shelf, and the parts add up. */
function compareCosts({ studio, book }: Shop): void {
  const coats = new Set<unknown>()
  let [spent, cost, counted, whole] = [0, 0, 0, 0]
  for (const cup of book.cups.values()) {
    if (book.cupState(cup.id) === null) continue
    const trace = traceCup(studio, cup.serial)
    cost += trace.costMicro
    for (const use of trace.layers.flatMap((layer) => layer.coats.flatMap((coat) => coat.uses)))
      whole += use.amount
    for (const { coat } of book.coatsOn(cup.id)) {
      if (coats.has(coat)) continue
      coats.add(coat)
      for (const draw of coat.draws) {
        spent += draw.costMicro
        counted += draw.amount
      }
    }
  }
  expect({ cost, whole }, "what the cups cost and took, in all").toEqual({ cost: spent, whole: counted })
}

/** Rules the file holds by itself, read from its rows alone. */
function keepsItsOwnRules({ studio: { file } }: Shop): void {
  const none = (what: string, query: string) => expect(file.allText(query), what).toEqual([])
  none(
    "an amount, and its cost, is the sum of its movements",
    `SELECT c.code FROM container c LEFT JOIN movement m ON m.container_id = c.id GROUP BY c.id
     HAVING c.amount_left <> coalesce(sum(m.amount), 0) OR c.cost_left_micro <> coalesce(sum(m.cost_micro), 0)`,
  )
  none(
    "nothing below zero, and no cost without an amount",
    "SELECT code FROM container WHERE amount_left < 0 OR cost_left_micro < 0 OR amount_left = 0 AND cost_left_micro <> 0",
  )
  none(
    "the legs of a transfer, and of its undo, sum to zero, cost too",
    `SELECT m.action_id FROM movement m LEFT JOIN movement o ON o.id = m.reverses_movement_id
     WHERE m.kind = 'transfer' OR o.kind = 'transfer' GROUP BY m.action_id
     HAVING sum(m.amount) <> 0 OR sum(m.cost_micro) <> 0`,
  )
  none("every row points at one that is there", "PRAGMA foreign_key_check")
}
