import { designs, perCup } from "../designs/service.ts"
import { type IsoDate, plusDays } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { ordersList } from "../orders/service.ts"
import type { Problem } from "../web/forms.ts"
import { questionOf } from "./asked.ts"
import { type AskedAnswer, whatIf } from "./service.ts"
import { shortRows } from "./short-rows.ts"
import { addsSentence, answerSentence, ifOrderedWords, whatIfSentence } from "./words.ts"

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
  const lines = asked.map((line) => {
    const askedAt = made.findIndex(({ index }) => index === line.index)
    return lineOf(studio, line, outlooks.get(askedAt) ?? null)
  })
  const sum = (of: (line: (typeof lines)[number]) => number | null) =>
    lines.reduce((total, line) => total + (of(line) ?? 0), 0)
  return {
    sentence: made.length === 0 ? "All their cups are there or in work." : whatIfSentence(answer),
    without: answerSentence(answer.without),
    lines,
    costMicro: sum((line) => line.costMicro),
    priceMicro: sum((line) => line.priceMicro),
    marginMicro: sum((line) => line.marginMicro),
    adds: shortRows(answer.adds, settingsOf(studio).currency, questionOf({ kind: "tried", lines: made })),
    says: addsSentence(answer),
    buyMicro: answer.costMicro,
    takesFrom: answer.takesFrom.map(({ line, fewer }) => ({
      orderId: line.orderId,
      design: line.design,
      buyer: line.buyer,
      fewer,
    })),
  }
}

function lineOf(
  studio: Studio,
  line: Shown,
  /** null: nothing of it is to make */
  outlook: AskedAnswer | null,
) {
  const { priceMicro, costMicro } = moneyOf(studio, line)
  return {
    ...line,
    earliestOn: outlook?.earliestOn ?? null,
    state: outlook === null || outlook.limit === null ? "enough" : "short",
    ifOrdered: outlook === null ? null : ifOrderedWords(outlook),
    inTime: outlook === null ? "all there" : `${outlook.able} of ${outlook.cups}`,
    priceMicro,
    costMicro,
    marginMicro: costMicro === null ? null : priceMicro - costMicro,
  }
}

/** @returns `costMicro` null where the design cannot be worked out */
function moneyOf(studio: Studio, { designId, quantity }: TriedLine) {
  const { versionId, priceMicro } = designs(studio).find((design) => design.designId === designId)!
  const together = Math.min(quantity, MADE_TOGETHER)
  try {
    const { materialsMicro, labourMicro } = perCup(studio, versionId, together)
    const costMicro = Math.round(((materialsMicro + labourMicro) * quantity) / together)
    return { priceMicro: priceMicro * quantity, costMicro }
  } catch (error) {
    if (!(error instanceof Refusal)) throw error
    return { priceMicro: priceMicro * quantity, costMicro: null }
  }
}
