import { apportion } from "../domain/apportion.ts"
import type { LayerNeed, ResinSystem, Working } from "../domain/plan.ts"
import { judgePour } from "../domain/pours.ts"
import { Refusal } from "../domain/refusal.ts"
import { byRatioBasis, volumeUl } from "../domain/resin-parts.ts"
import type { FormState } from "../web/forms.ts"

/** What was really poured into one mix. Parts in each part's own base unit. */
export interface Poured {
  /** which resin of the layer, from 0, and which of its mixes */
  use: number
  nth: number
  /** null: as planned */
  parts: { a: number; b: number } | null
  /** found left in the mixing cup afterwards, µL; null: not looked at */
  leftUl: number | null
}

/** What a supply's containers lost by scale or by marks, in its base unit, in all of the layer. */
export interface Weighed {
  supplyId: number
  amount: number
  basis: "weighed" | "measured"
}

/** What the person measured while a layer was put on. */
export interface Measured {
  poured: readonly Poured[]
  weighed: readonly Weighed[]
  /** a mix far off its ratio really was poured so */
  asPoured: boolean
}

/** What a draw took: by measure where there is one, as planned otherwise. */
export interface DrawTaken {
  amount: number
  basis: "planned" | "weighed" | "measured"
}

/**
 * What each draw of a layer took, in the order of the draws. A supply that was weighed once and goes into several
 * mixes is shared out over them as planned.
 *
 * @throws {Refusal} a mix or a supply that the layer does not have; a ratio far off that is not confirmed
 */
export function takenByDraw(need: LayerNeed, cups: number, measured: Measured | null): DrawTaken[] {
  const taken = need.draws.map(({ amount }): DrawTaken => ({ amount, basis: "planned" }))
  if (measured === null) return taken
  for (const poured of measured.poured) {
    const index = mixIndex(need, cups, poured)
    const mix = need.mixes[index]!
    const parts = poured.parts ?? { a: mix.partA, b: mix.partB }
    // the page has a line for each mix, in their order
    const field = `poured[${index}]`
    judge(mix.system, parts, measured.asPoured, field)
    if (poured.leftUl !== null) refuseMoreLeft(mix.system, parts, poured.leftUl, field)
    if (poured.parts === null) continue
    const basis = mix.system.ratioBasis === "mass" ? "weighed" : "measured"
    need.draws.forEach((draw, nth) => {
      if (draw.mix !== index) return
      if (draw.supplyId === mix.system.partA.id) taken[nth] = { amount: parts.a, basis }
      if (draw.supplyId === mix.system.partB.id) taken[nth] = { amount: parts.b, basis }
    })
  }
  for (const { supplyId, amount, basis } of measured.weighed) {
    const mine = need.draws.flatMap((draw, index) => (draw.supplyId === supplyId ? [index] : []))
    if (mine.length === 0) throw new Refusal("Something was weighed that this step does not use.")
    const parts = apportion(
      amount,
      mine.map((index) => need.draws[index]!.amount),
    )
    for (const [nth, index] of mine.entries()) taken[index] = { amount: parts[nth]!, basis }
  }
  return taken
}

/** Which mix of a layer a pour was, each resin of it going round all the cups. @throws {Refusal} there is none */
export function mixIndex(need: LayerNeed, cups: number, { use, nth }: Pick<Poured, "use" | "nth">): number {
  let resin = 0
  let ofIt = 0
  let served = 0
  for (const [index, mix] of need.mixes.entries()) {
    if (resin === use && ofIt === nth) return index
    served += mix.cups
    ofIt += 1
    if (served < cups) continue
    resin += 1
    ofIt = 0
    served = 0
  }
  throw new Refusal("There are fewer mixes for these cups. Open the batch again and measure by what it says.")
}

/**
 * Judges A and B as poured.
 *
 * @returns a remark when the ratio is off, null when it is good
 * @throws {Refusal} far off and not confirmed
 */
export function judge(
  system: ResinSystem,
  { a, b }: { a: number; b: number },
  asPoured: boolean,
  field: string,
): string | null {
  const { verdict, sentence } = judgePour(system, a, b)
  switch (verdict) {
    case "good":
      return null
    case "off":
      return sentence
    case "refuse":
      if (asPoured) return sentence
      throw new Refusal(`${sentence} ${TICK_BELOW}`, { field: `${field}[a]` })
  }
}

const TICK_BELOW = "If it really was poured so, tick that below."

/** Whether a form is asked, when it is shown again, if a mix really was poured so far off its ratio. */
export function asksAsPoured(state: FormState | null): boolean {
  if (state === null) return false
  return (
    state.problems.some(({ sentence }) => sentence.endsWith(TICK_BELOW)) ||
    (state.values.asPoured ?? []).includes("on")
  )
}

/** @throws {Refusal} more is left in a mixing cup than went in */
export function refuseMoreLeft(
  system: ResinSystem,
  { a, b }: { a: number; b: number },
  leftUl: number,
  field: string,
): void {
  if (leftUl < mixedUlOf(system, a, b)) return
  throw new Refusal("More is left in the mixing cup than was poured into it. Check the number.", {
    field: `${field}[left]`,
  })
}

/** A mix's volume from its parts, each in its own base unit; µL. */
export function mixedUlOf(system: ResinSystem, a: number, b: number): number {
  return volumeUl(system, {
    basis: system.ratioBasis,
    a: byRatioBasis(system.partA, a, system),
    b: byRatioBasis(system.partB, b, system),
  })
}

/** How far a mix as poured was off, kept with the coat; null when it was good. */
export function ratioWorking(system: ResinSystem, { a, b }: { a: number; b: number }): Working | null {
  const { verdict, ratioErrorPpm, sentence } = judgePour(system, a, b)
  if (verdict === "good") return null
  const unit = (part: ResinSystem["partA"]) => part.baseUnit
  return {
    title: `${system.name} as poured: ${sentence}`,
    formula: "A ÷ B by the maker's basis ÷ (ratio A ÷ ratio B) − 1",
    inputs: [
      { name: `${system.partA.name} poured`, value: a, unit: unit(system.partA), from: "this batch" },
      { name: `${system.partB.name} poured`, value: b, unit: unit(system.partB), from: "this batch" },
      { name: "ratio A", value: system.ratioA, unit: "parts", from: "resin system" },
      { name: "ratio B", value: system.ratioB, unit: "parts", from: "resin system" },
    ],
    result: { value: ratioErrorPpm, unit: "ppm" },
  }
}
