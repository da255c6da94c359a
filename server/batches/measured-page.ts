import type { Request } from "express"
import { sayDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { byRatioBasis } from "../domain/resin-parts.ts"
import { fieldUnit, formatAmount, toUnit } from "../domain/units.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { type FormState, idParam } from "../web/forms.ts"
import { giversOf, weighableFor } from "./came-from.ts"
import { coatsOf, type WrittenCoat, type WrittenMix } from "./coats.ts"
import { asksAsPoured } from "./measured.ts"
import { measuredBy } from "./measuring-view.ts"
import { batchProgress } from "./progress.ts"

/** What a layer that is done really took, for measuring it afterwards. */
export function measuredPage(studio: Studio, req: Request, state: FormState | null) {
  const batchId = idParam(req)
  const position = idParam(req, "position")
  const { plan } = batchProgress(studio, batchId)
  const layer = plan.layers.find((one) => one.position === position)
  const coats = coatsOf(studio, batchId, position)
  if (!layer || coats.length === 0) throw new Refusal("This layer is not done yet.", { status: 404 })
  const mixed = coats.filter((coat) => coat.mix !== null)
  return {
    title: `Measured: ${layer.name}`,
    lead: `${plan.designName}, batch ${batchId}. Fill in only what you measured; the book follows it.`,
    back: { to: `/batches/${batchId}`, label: "The batch" },
    action: `/batches/${batchId}/measured/${position}`,
    batchId,
    /** refused for it: it can be said that it was so all the same */
    asksAsPoured: asksAsPoured(state),
    asksHeldMore:
      state !== null &&
      (state.problems.some(({ field }) => field === "heldMore") || "heldMore" in state.values),
    pours: mixed.map((coat) => pourLine(coat, coat.mix as WrittenMix)),
    losses: lossesOf(studio, coats).map((line) => ({
      ...line,
      /** unfolded while something typed there is in the way */
      eachOpen: line.each.some(({ index }) =>
        state?.problems.some(({ field }) => field?.startsWith(`each[${index}]`)),
      ),
    })),
    givers: giverLines(studio, coats),
  }
}

/** What each coat took that can be weighed, with the containers that can be weighed each by itself. */
function lossesOf(studio: Studio, coats: readonly WrittenCoat[]) {
  const { units } = settingsOf(studio)
  const today = todayOf(studio)
  let index = 0
  return coats.flatMap((coat) =>
    lossLines(coat).map((line) => ({
      ...line,
      each: line.byScale
        ? [
            ...weighableFor(studio, coat, line.supplyId).map((one) => ({
              index: index++,
              code: one.code,
              says: [
                one.booked > 0
                  ? `${formatAmount(one.booked, line.baseUnit, units)} by the book`
                  : one.isOpen
                    ? "open"
                    : "sealed by the book",
                ...(one.pastSince === null ? [] : [`past its day (${sayDate(one.pastSince, today)})`]),
              ].join("; "),
            })),
            // one that is not listed: its code is typed
            { index: index++, code: null, says: "" },
          ]
        : [],
    })),
  )
}

/** Each container that may have given to a coat, by coat and supply. */
function giverLines(studio: Studio, coats: readonly WrittenCoat[]) {
  const { units } = settingsOf(studio)
  const today = todayOf(studio)
  let index = 0
  return coats.flatMap((coat) =>
    giversOf(studio, coat).map((givers) => ({
      ...givers,
      coatId: coat.coatId,
      mix: coat.mix?.code ?? null,
      cups: coat.cups,
      doneAt: coat.doneAt,
      containers: givers.containers.map((one) => ({
        ...one,
        index: index++,
        hint: [
          one.booked === 0
            ? "open; nothing by the book"
            : `${formatAmount(one.booked, givers.baseUnit, units)} by the book`,
          ...(one.pastSince === null ? [] : [`past its day (${sayDate(one.pastSince, today)})`]),
        ].join("; "),
        unit: fieldUnit(givers.baseUnit, units),
      })),
    })),
  )
}

function pourLine({ coatId, cups, doneAt, measured }: WrittenCoat, mix: WrittenMix) {
  const { system, plannedA, plannedB, bookedA, bookedB, leftUl } = mix
  const unit = system.ratioBasis === "volume" ? "mL" : "g"
  const said = (part: typeof system.partA, amount: number) =>
    `${Number(toUnit(byRatioBasis(part, amount, system), unit).toFixed(2))} ${unit}`
  const hint = (part: typeof system.partA, planned: number, booked: number) =>
    measured.has(part.id)
      ? `planned ${said(part, planned)}, measured ${said(part, booked)}`
      : `planned ${said(part, planned)}`
  return {
    coatId,
    code: mix.code,
    cups,
    doneAt,
    system: system.name,
    a: { name: system.partA.name, hint: hint(system.partA, plannedA, bookedA) },
    b: { name: system.partB.name, hint: hint(system.partB, plannedB, bookedB) },
    left: leftUl === null ? "weighed or by its marks" : `found ${Number((leftUl / 1000).toFixed(2))} mL`,
    unit,
  }
}

function lossLines({ coatId, cups, doneAt, uses, mix, planned, measured }: WrittenCoat) {
  return [...planned].flatMap(([supplyId, amount]) => {
    const mine = uses.filter((use) => use.supplyId === supplyId)
    const [first] = mine
    if (!first || supplyId === mix?.system.partA.id || supplyId === mix?.system.partB.id) return []
    const by = measuredBy(first.baseUnit, first.densityMgPerMl)
    if (by === null) return []
    const booked = mine.reduce((sum, use) => sum + use.amount, 0)
    return [
      {
        coatId,
        supplyId,
        supply: first.supply,
        baseUnit: first.baseUnit,
        cups,
        doneAt,
        planned: amount,
        measured: measured.has(supplyId) ? booked : null,
        ...by,
      },
    ]
  })
}
