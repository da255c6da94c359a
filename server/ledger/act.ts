import { createHash } from "node:crypto"
import { Temporal } from "temporal-polyfill"
import type { StudioFile } from "../../db/file.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, settingsOf } from "./studio.ts"

/** Who acts: the device, and a key that makes a repeated request one action. */
export interface Actor {
  device: string
  /** made by the page when it was opened; the same again is the same answer */
  key: string
  /** when it happened, if not now: an ISO instant or a local date-time of the studio */
  happenedAt?: string | undefined
  reason?: string | undefined
}

/** An action under way: what the ledger's writing functions work in. */
export interface Act {
  readonly file: StudioFile
  readonly actionId: number
  readonly happenedAt: string
  readonly happenedOn: IsoDate
  readonly timeZone: string
  readonly units: "metric" | "us"
}

/** What was done, and what the person is told again when the same request comes twice. */
export interface Done<Answer> {
  actionId: number
  summary: string
  answer: Answer
  /** true when this very request had been carried out before and nothing was done now */
  again: boolean
}

/** What an action's work hands back: the sentence for the history, the answer, and for an undo what it undoes. */
export interface Written<Answer> {
  summary: string
  answer: Answer
  reverses?: number
  /** runs in the same transaction once the action itself is written */
  afterwards?: () => void
}

/**
 * Carries out one action in one transaction: all of it, or nothing.
 *
 * @param kind what sort of action, in one word of the trade: "receive", "coat", "undo"
 * @param body the request as it was asked; the same key with another body is refused
 * @param work writes through the ledger's functions; returns a sentence for the history and an answer
 * @param happenedAt where it follows from the body and the day on which that was sent; it is no part of the
 *   request then, so that the same form sent again after midnight is still the same
 * @throws {Refusal} a key used before for something else; a time in the future
 */
export function act<Answer>(
  studio: Studio,
  kind: string,
  by: Actor,
  body: unknown,
  work: (act: Act) => Written<Answer>,
  happenedAt: string | undefined = by.happenedAt,
): Done<Answer> {
  return studio.file.transaction(() => {
    const begun = begin(studio, kind, by, body, happenedAt)
    return "again" in begun ? (begun as Done<Answer>) : begun.end(work(begun.underway))
  })
}

/**
 * The same for work that takes its time, as bringing in a long file: others are answered in between, and what they
 * would write waits until it ends (`StudioFile.longTransaction`).
 */
export function actSlowly<Answer>(
  studio: Studio,
  kind: string,
  by: Actor,
  body: unknown,
  work: (act: Act) => Promise<Written<Answer>>,
): Promise<Done<Answer>> {
  return studio.file.longTransaction(async () => {
    const begun = begin(studio, kind, by, body, by.happenedAt)
    return "again" in begun ? (begun as Done<Answer>) : begun.end(await work(begun.underway))
  })
}

interface Begun {
  underway: Act
  /** writes the action itself, once its work is written */
  end: <Answer>(written: Written<Answer>) => Done<Answer>
}

/** What the same request was answered before, or a new action. */
function begin(
  studio: Studio,
  kind: string,
  by: Actor,
  body: unknown,
  happenedAt: string | undefined,
): Begun | Done<unknown> {
  const { file } = studio
  const requestHash = hashOf([kind, body, by.happenedAt ?? null, by.reason ?? ""])
  const before = file.firstText<{ id: number; request_hash: string; summary: string; answer: string }>(
    "SELECT id, request_hash, summary, answer FROM action WHERE key = ?",
    [by.key],
  )
  if (before) {
    if (before.request_hash !== requestHash) {
      throw new Refusal(
        "This form was already sent with other contents. Look at it and send it once more; a page left open long must be reloaded first.",
        {
          status: 409,
        },
      )
    }
    return {
      actionId: before.id,
      summary: before.summary,
      answer: JSON.parse(before.answer),
      again: true,
    }
  }

  const { timeZone, units } = settingsOf(studio)
  const now = studio.now()
  const happened = happenedAt === undefined ? now : instantOf(happenedAt, timeZone)
  if (Temporal.Instant.compare(happened, now.add({ minutes: 1 })) > 0) {
    throw new Refusal("That time is still to come. Put the time at which it happened.", {
      field: "happenedAt",
    })
  }
  const local = happened.toZonedDateTimeISO(timeZone)
  const actionId = nextId(file, "action")
  const underway: Act = {
    file,
    actionId,
    happenedAt: happened.toString({ smallestUnit: "millisecond" }),
    happenedOn: local.toPlainDate().toString(),
    timeZone,
    units,
  }
  const end = <Answer>({ summary, answer, reverses, afterwards }: Written<Answer>): Done<Answer> => {
    // The action is written last, when its sentence and answer are known; the rows that name it are checked then.
    file.insert("action", {
      id: actionId,
      kind,
      key: by.key,
      request_hash: requestHash,
      happened_at: underway.happenedAt,
      happened_offset_min: local.offsetNanoseconds / 60e9,
      happened_on: underway.happenedOn,
      recorded_at: now.toString({ smallestUnit: "millisecond" }),
      device: by.device,
      summary,
      reason: by.reason ?? "",
      answer: JSON.stringify(answer ?? null),
      reverses_action_id: reverses ?? null,
    })
    afterwards?.()
    return { actionId, summary, answer, again: false }
  }
  return { underway, end }
}

/** The id the next row of a table with AUTOINCREMENT gets, for codes that are made from it. */
export function nextId(file: StudioFile, table: "action" | "container" | "cup" | "mix"): number {
  const last = file.firstText<{ seq: number }>("SELECT seq FROM sqlite_sequence WHERE name = ?", [table])
  return (last?.seq ?? 0) + 1
}

function hashOf(value: unknown): string {
  return createHash("sha256").update(JSON.stringify(value)).digest("hex")
}

function instantOf(text: string, timeZone: string): Temporal.Instant {
  try {
    return /[zZ]|[+-]\d\d:\d\d$/.test(text)
      ? Temporal.Instant.from(text)
      : Temporal.PlainDateTime.from(text).toZonedDateTime(timeZone).toInstant()
  } catch {
    throw new Refusal("That time could not be read. Put it as 2026-12-03T14:30.", { field: "happenedAt" })
  }
}
