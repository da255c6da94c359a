import type fc from "fast-check"
import { expect } from "vitest"
import { Refusal } from "../../../server/domain/refusal.ts"
import type { Actor, Done } from "../../../server/ledger/act.ts"
import type { Deed } from "./book.ts"
import { compare } from "./compare.ts"
import { nowOn, type Shop } from "./shop.ts"

/** One thing asked of the program, and what the oracle makes of it. */
export interface Asked<Answer> {
  /** in words, for the counterexample */
  said: string
  /** why the oracle holds that it must be refused; null: it must be done */
  refused: string | null
  /** when it happened, if not now: ISO in UTC with milliseconds */
  at?: string | null
  service: (by: Actor) => Done<Answer>
  /** writes it down in the oracle: fills the deed, and adds bottles, lots and cups */
  keep: (deed: Deed, answer: Answer) => void
}

/** A command of the model: decides, from some numbers, what to ask of whatever there is now. */
export abstract class Step implements fc.Command<Shop, Shop> {
  readonly numbers: readonly number[]

  constructor(numbers: readonly number[]) {
    this.numbers = numbers
  }

  check(shop: Readonly<Shop>): boolean {
    return this.possible(shop)
  }

  run(shop: Shop): void {
    this.take(shop, (said) => shop.told.push(said))
  }

  /** Whether there is anything to ask it of. */
  abstract possible(shop: Readonly<Shop>): boolean

  abstract take(shop: Shop, say: (said: string) => void): void

  toString(): string {
    return `${this.constructor.name}(${this.numbers.join()})`
  }
}

/** A form that was sent and carried out; sent again it answers the same. */
export interface Sent {
  by: Actor
  said: string
  service: (by: Actor) => Done<unknown>
  done: Done<unknown>
}

/**
 * Asks it of the program. Refused: refused by the oracle too, nothing is changed, and the key stays good for the
 * next. Done: the oracle writes it down, the same form sent again changes nothing and gives the same answer. Then
 * everything is compared.
 */
export function ask<Answer>(shop: Shop, asked: Asked<Answer>): void {
  const by: Actor = { device: "test bench", key: shop.freshKey(), ...(asked.at && { happenedAt: asked.at }) }
  const before = shop.comparing ? everyRow(shop) : null
  const nextAction = 1 + lastAction(shop)
  let done: Done<Answer>
  try {
    done = asked.service(by)
  } catch (error) {
    if (!(error instanceof Refusal)) throw error
    if (asked.refused === null)
      throw new Error(`“${asked.said}” was refused: ${error.message}`, { cause: error })
    if (shop.comparing)
      expect(everyRow(shop), `“${asked.said}” was refused and yet changed something`).toEqual(before)
    shop.keyWasNotUsed()
    return
  }
  if (asked.refused !== null) throw new Error(`“${asked.said}” was done although ${asked.refused}`)

  expect({ again: done.again, actionId: done.actionId }).toEqual({
    again: false,
    actionId: nextAction,
  })
  const at = asked.at ?? nowOn(shop.today())
  const deed: Deed = {
    id: done.actionId,
    said: asked.said,
    at,
    on: at.slice(0, 10),
    moves: [],
    marks: [],
    cups: [],
    wentOn: [],
    coats: [],
    undone: false,
    undoes: null,
  }
  shop.book.deeds.push(deed)
  asked.keep(deed, done.answer)
  const sent: Sent = { by, said: asked.said, service: asked.service, done }
  shop.sent.push(sent)
  if (!shop.comparing) return
  sendAgain(shop, sent)
  compare(shop)
}

function lastAction({ studio }: Shop): number {
  return studio.file.firstText<{ id: number }>("SELECT coalesce(max(id), 0) AS id FROM action")!.id
}

/** The same form once more: the same answer, and nothing written. */
export function sendAgain(shop: Shop, { by, said, service, done }: Sent): void {
  const before = everyRow(shop)
  expect(service(by), `“${said}”, sent again`).toEqual({ ...done, again: true })
  expect(everyRow(shop), `“${said}”, sent again, wrote something`).toEqual(before)
}

const TABLES = [
  "action",
  "movement",
  "mark",
  "lot",
  "container",
  "container_lot",
  "receipt_line",
  "batch",
  "cup",
  "cup_change",
  "cup_move",
  "coat",
  "coat_cup",
  "mix",
]

/** How many rows each table of the ledger has, and what the rows that may change say. */
export function everyRow({ studio: { file } }: Shop): unknown {
  return [
    file.allText(
      TABLES.map((table) => `SELECT '${table}' AS name, count(*) AS rows FROM ${table}`).join(" UNION ALL "),
    ),
    file.allText("SELECT * FROM container"),
    file.allText("SELECT * FROM lot"),
    file.allText("SELECT * FROM cup"),
  ]
}
