import { designs, perCup } from "../designs/service.ts"
import { type IsoDate, plusDays } from "../domain/dates.ts"
import { smallestCoin } from "../domain/money.ts"
import { Refusal } from "../domain/refusal.ts"
import { roundTable } from "../domain/rounding.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { ordersList } from "../orders/service.ts"
import type { Problem } from "../web/forms.ts"
import { questionOf } from "./asked.ts"
import { type AskedAnswer, whatIf } from "./service.ts"
import { shortRows } from "./short-rows.ts"
import { addsSentence, answerSentence, fewerWords, ifOrderedWords, whatIfSentence } from "./words.ts"

/** A line as it is tried out: of a draft order, or typed in and kept nowhere. */
export interface TriedLine {
  /** of a draft order; null: typed in */
  lineId: number | null
  /** counted in */
  on: boolean
  designId: number
  quantity: number
  dueOn: IsoDate
}

/** Up to so many cups are made together when their cost is worked out. Common practice, no source. */
const MADE_TOGETHER = 12
const USUAL_DAYS = 21

/** Lines of all draft orders, as they are kept, all counted in. */
export function draftLines(studio: Studio): TriedLine[] {
  return ordersList(studio, ["draft"]).flatMap((order) =>
    order.lines.map(({ lineId, designId, quantity, dueOn }) => ({
      lineId,
      on: true,
      designId,
      quantity,
      dueOn,
    })),
  )
}

/**
 * Draft orders and lines typed in, side by side: with them and without.
 *
 * @param problems what could not be read; then there is no answer
 */
export function whatIfPage(studio: Studio, lines: readonly TriedLine[], problems: readonly Problem[] = []) {
  const today = todayOf(studio)
  const drafts = new Map(
    ordersList(studio, ["draft"]).flatMap((order) =>
      order.lines.map((line) => [line.lineId, { order, line }] as const),
    ),
  )
  const names = new Map(designs(studio).map((design) => [design.designId, design]))
  for (const line of lines) {
    if (!names.has(line.designId))
      throw new Refusal("Choose the design that is asked for.", { field: "lines" })
  }
  const shown = lines.map((line, index) => {
    const draft = line.lineId === null ? undefined : drafts.get(line.lineId)
    return {
      ...line,
      lineId: draft ? line.lineId : null,
      index,
      design: names.get(line.designId)!.name,
      // what a draft has already is not made again
      toMake: Math.max(0, line.quantity - (draft ? draft.line.quantity - draft.line.toStart : 0)),
      orderId: draft?.order.orderId ?? null,
      buyer: draft?.order.buyer ?? null,
      isChanged: draft ? draft.line.quantity !== line.quantity || draft.line.dueOn !== line.dueOn : true,
    }
  })
  const asked = shown.filter((line) => line.on)
  return {
    title: "What if",
    back: { to: "/forecast", label: "What runs short" },
    lead: "Try orders out before you promise them: change a number or a day and see what it does. Nothing is kept until you say so.",
    lines: shown,
    newIndex: shown.length,
    designs: designs(studio).map((design) => ({
      id: design.designId,
      name: `${design.name} (${design.blank})`,
    })),
    today,
    usualDay: plusDays(today, USUAL_DAYS),
    problem: problems[0]?.sentence ?? null,
    answer: problems.length > 0 || asked.length === 0 ? null : answerOf(studio, asked),
  }
}

type Shown = TriedLine & {
  index: number
  design: string
  toMake: number
  orderId: number | null
  buyer: string | null
  isChanged: boolean
}

function answerOf(studio: Studio, asked: readonly Shown[]) {
  const made = asked.filter((line) => line.toMake > 0).map((line) => ({ ...line, quantity: line.toMake }))
  const answer = whatIf(studio, made)
  const outlooks = new Map(answer.asked.map((line) => [line.askedAt, line]))
  const money = moneyOfAll(studio, asked)
  const lines = asked.map((line, row) => {
    const askedAt = made.findIndex(({ index }) => index === line.index)
    return { ...lineOf(line, outlooks.get(askedAt) ?? null), ...money.lines[row]! }
  })
  return {
    sentence: made.length === 0 ? "All their cups are there or in work." : whatIfSentence(answer),
    without: answerSentence(answer.without),
    lines,
    together: money.together,
    adds: shortRows(answer.adds, settingsOf(studio).currency, questionOf({ kind: "tried", lines: made })),
    says: addsSentence(answer),
    buyMicro: answer.costMicro,
    takesFrom: answer.takesFrom.map(({ line, fewer }) => ({
      orderId: line.orderId,
      buyer: line.buyer,
      says: fewerWords(line, fewer),
    })),
  }
}

/** @param outlook null: nothing of it is to make */
function lineOf(line: Shown, outlook: AskedAnswer | null) {
  return {
    ...line,
    earliestOn: outlook?.earliestOn ?? null,
    // what a cup of so many takes and costs, supply by supply
    costTo: `/designs/${line.designId}?cups=${madeTogether(line)}`,
    state: outlook === null || outlook.limit === null ? "enough" : "short",
    ifOrdered: outlook === null ? null : ifOrderedWords(outlook),
    inTime: outlook === null ? "all there" : `${outlook.able} of ${outlook.cups}`,
  }
}

/**
 * What the lines bring, cost and leave, and all of them together, to the smallest coin: every line and every column
 * adds up as it is shown (`roundTable`).
 */
function moneyOfAll(studio: Studio, asked: readonly Shown[]) {
  const exact = asked.map((line) => moneyOf(studio, line))
  const all = exact.reduce((sum, { priceMicro, costMicro }) => sum + priceMicro + (costMicro ?? 0), 0)
  if (all > Number.MAX_SAFE_INTEGER)
    throw new Refusal("That is more money than can be counted. Try fewer cups.", { field: "lines" })
  const { cells, rowTotals, columnTotals, total } = roundTable(
    exact.map(({ priceMicro, costMicro }) => [priceMicro, -(costMicro ?? 0)]),
    smallestCoin(settingsOf(studio).currency),
  )
  return {
    lines: exact.map(({ costMicro }, row) => ({
      priceMicro: cells[row]![0]!,
      costMicro: costMicro === null ? null : 0 - cells[row]![1]!,
      marginMicro: costMicro === null ? null : rowTotals[row]!,
    })),
    together: {
      priceMicro: columnTotals[0]!,
      costMicro: 0 - columnTotals[1]!,
      marginMicro: total,
      /** a design that cannot be worked out has no cost */
      isKnown: exact.every(({ costMicro }) => costMicro !== null),
    },
  }
}

function madeTogether({ quantity }: Pick<TriedLine, "quantity">): number {
  return Math.min(quantity, MADE_TOGETHER)
}

/** @returns `costMicro` null where the design cannot be worked out */
function moneyOf(studio: Studio, { designId, quantity }: TriedLine) {
  const { versionId, priceMicro } = designs(studio).find((design) => design.designId === designId)!
  const together = madeTogether({ quantity })
  try {
    const { materialsMicro, labourMicro } = perCup(studio, versionId, together)
    const costMicro = Math.round(((materialsMicro + labourMicro) * quantity) / together)
    return { priceMicro: priceMicro * quantity, costMicro }
  } catch (error) {
    if (!(error instanceof Refusal)) throw error
    return { priceMicro: priceMicro * quantity, costMicro: null }
  }
}
