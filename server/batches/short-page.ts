import type { z } from "zod"
import { type IsoDate, sayDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { sayAmount, sheetsAtLeast } from "../domain/said-amounts.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { fieldAmount, fieldUnit } from "../domain/units.ts"
import { type OnHand, usedUp } from "../ledger/on-hand.ts"
import { sheetsOf } from "../ledger/sheets.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { type FormState, rowsTyped } from "../web/forms.ts"
import { leftWords, otherWays } from "./other-ways.ts"
import type { BatchProgress } from "./progress.ts"
import { type answers, sayOf } from "./say.ts"
import { coveredCups } from "./short.ts"
import { choiceText, stillSaid, withInsteadOf } from "./substitutes.ts"
import { EMPTIES_OFFERED, type Missing, type Pass, type Say, take } from "./take.ts"

/** Fields of a refused form that its answer sends along again. */
const CARRIED =
  /^(?:position|good|happenedAt|cupIds|answers\[|outcomes\[|poured\[|weighed\[|asPoured|scuff|again|room|photo)/

/** A form that was refused: which step, and what the person answered so far. */
interface Asked {
  step: "coat" | "finish"
  /** the layers that were asked for, of the batch as it is or with others in place of some */
  passesOf: (batch: BatchProgress) => readonly Pass[]
  answers: z.output<typeof answers>
}

/**
 * What to answer when the shelf was short for a form: for each supply a bottle that held more than the book says
 * (also one the book calls empty), another supply or resin that is allowed in its place, or one past its day. Null when it is
 * not short. Answers that make no sense are
 * asked for again from the beginning.
 */
export function shortPage(studio: Studio, batch: BatchProgress, asked: Asked, state: FormState) {
  try {
    return offers(studio, batch, asked, sayOf(studio, asked.answers), state)
  } catch (error) {
    if (!(error instanceof Refusal)) throw error
    const { answers: _answers, ...typed } = state.typed
    const values = Object.fromEntries(
      Object.entries(state.values).filter(([name]) => !name.startsWith("answers[")),
    )
    return offers(studio, batch, asked, {}, { ...state, typed, values })
  }
}

function offers(studio: Studio, asIs: BatchProgress, asked: Asked, said: Say, state: FormState) {
  const on = todayOf(studio)
  const { step } = asked
  const batch = withInsteadOf(studio, asIs, said.insteadOf ?? [])
  const { id, plan } = batch
  const say = stillSaid(studio, plan, said)
  const passes = asked.passesOf(batch)
  const taking = take(studio, plan, passes, on, say)
  if (taking.kind === "enough") return null
  const answered = rowsTyped(state, "answers")?.length ?? 0
  const lacks = taking.missing.map((lack, index) => ({
    ...offersFor(studio, lack, taking.shelf, on, say, othersFor(studio, asIs, asked, say, batch, lack)),
    row: `answers[${answered + index}]`,
  }))
  const covered = coveredCups(studio, plan, passes, on, say)
  const carried = Object.entries(state.values)
    .filter(([name]) => CARRIED.test(name))
    .flatMap(([name, values]) => values.map((value) => ({ name, value })))
  return {
    action: `/batches/${id}/${step}`,
    carried,
    lacks,
    canGoOn: lacks.some((lack) => lack.choices.length > 0),
    /** a layer can be put on the cups it covers now, on the others later */
    fewer:
      step === "coat" && covered.length > 0
        ? { cupIds: covered, carried: carried.filter(({ name }) => name !== "cupIds") }
        : null,
  }
}

/** What could be taken in place of it, in this batch, and how much of that there is. */
function othersFor(
  studio: Studio,
  asIs: BatchProgress,
  asked: Asked,
  { insteadOf = [] }: Say,
  { plan }: BatchProgress,
  lack: Missing,
) {
  return otherWays(studio, plan, lack.supplyId).map((way) => ({
    value: `use:${choiceText(way.choice)}`,
    label: `Use ${way.name} in this batch: ${leftWords(studio, asIs, asked.passesOf, insteadOf, way)}`,
    isPast: false,
  }))
}

function offersFor(
  studio: Studio,
  lack: Missing,
  shelf: readonly OnHand[],
  on: IsoDate,
  say: Say,
  others: ReturnType<typeof othersFor>,
) {
  const { units, timeZone } = settingsOf(studio)
  const sheet = sheetsOf(studio).get(lack.supplyId)
  const unit = fieldUnit(lack.baseUnit, units)
  const left = ({ amountLeft, isOffcut }: OnHand) =>
    sayAmount(amountLeft, { baseUnit: lack.baseUnit, sheet, offcut: isOffcut }, units)
  const mine = shelf.filter((bottle) => bottle.supplyId === lack.supplyId)
  const usable = mine.filter((bottle) => !bottle.held && isUsable(bottle, on, say))
  const past = mine.filter((bottle) => !bottle.held && !isUsable(bottle, on, say))
  const empty = usedUp(studio.file, timeZone, lack.supplyId, EMPTIES_OFFERED).filter(
    (bottle) => !bottle.held && !mine.some((one) => one.containerId === bottle.containerId),
  )
  const choices = [
    ...usable.toSorted(byUse).map((bottle) => more(bottle, `the book says ${left(bottle)}`, on)),
    ...empty.map((bottle) => more(bottle, "the book says it is empty", on)),
    ...others,
    ...past.map((bottle) => ({
      value: `past:${bottle.containerId}`,
      label: `Use ${bottle.code} (${left(bottle)}) although ${pastWords(bottle, on)}`,
      isPast: true,
    })),
  ]
  return {
    supplyId: lack.supplyId,
    supply: lack.supply,
    layer: lack.layer,
    question: others.length > 0 ? "What is true, or used instead" : "What is true",
    amount: lack.amount,
    baseUnit: lack.baseUnit,
    choices,
    /** the likeliest bottle is chosen already, but never something past its day or another supply */
    chosen: choices[0]?.isPast === false && !others.includes(choices[0]) ? choices[0].value : "",
    heldMore: usable.length + empty.length > 0,
    missing: sheet ? sheetsAtLeast(lack.amount, sheet) : fieldAmount(lack.amount, unit),
    unit: sheet ? "sheets" : unit,
    heldBack: mine.filter((bottle) => bottle.held).map(({ code }) => code),
  }
}

function more(bottle: OnHand, bookSays: string, on: IsoDate) {
  const isPast = !isUsableOn(bottle.useBy, on)
  return {
    value: `more:${bottle.containerId}`,
    label: `${bottle.code} held more: ${bookSays}${isPast ? `; ${pastWords(bottle, on)}` : ""}`,
    isPast,
  }
}

function pastWords(bottle: OnHand, on: IsoDate): string {
  return `it was to be used by ${sayDate(bottle.useBy ?? on, on)}`
}

function isUsable(bottle: OnHand, on: IsoDate, say: Say): boolean {
  const insisted = [...(say.insist ?? []), ...(say.heldMore ?? []).map((held) => held.containerId)]
  return isUsableOn(bottle.useBy, on) || insisted.includes(bottle.containerId)
}

/** The bottle in use first. */
function byUse(a: OnHand, b: OnHand): number {
  const rank = (bottle: OnHand) => (bottle.onBench ? 0 : bottle.openedOn === null ? 2 : 1)
  return rank(a) - rank(b) || a.containerId - b.containerId
}
