import type { Request } from "express"
import { sayMinutes } from "../designs/service.ts"
import type { AfterLayer } from "../domain/after-layer.ts"
import { sayDate } from "../domain/dates.ts"
import { type Hazard, isHazard } from "../domain/hazards.ts"
import { sayLayer } from "../domain/layers.ts"
import { type CardItem, type CardLayer, type CardMix, layerCard } from "../domain/mix-card.ts"
import { withoutDrawn } from "../domain/offcuts.ts"
import { readableWorking } from "../domain/readable-working.ts"
import { sayRoom } from "../domain/room.ts"
import { sayAmount } from "../domain/said-amounts.ts"
import { fieldAmount, formatAmount } from "../domain/units.ts"
import { sheetsOf } from "../ledger/sheets.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { suppliesList } from "../supplies/service.ts"
import { idParam } from "../web/forms.ts"
import { exactly } from "./exactly.ts"
import { recoatOf } from "./recoat.ts"
import { inRoom, roomOn } from "./room.ts"
import { type BatchProgress, batchProgress, passesToFinish } from "./service.ts"
import { insteadOfOn } from "./substitutes.ts"
import { measuresOf, needOf, offcutsFor, roomProblem, warmed } from "./take.ts"

/** What to mix and take for the layers still to do, worked out by the very needs that they will be taken by. */
export function mixCardPage(studio: Studio, req: Request) {
  const batchId = idParam(req)
  const batch = batchProgress(studio, batchId)
  const { plan } = batch
  const layers = cardLayers(studio, batch).map((layer) => layerView(studio, batch, layer))
  const cups = Math.max(0, ...layers.map((layer) => layer.cups))
  const cautions = [...new Set(layers.flatMap((layer) => layer.allCautions))]
  return {
    title: "Mix card",
    lead:
      layers.length === 0
        ? `${plan.designName}, batch ${batchId}: nothing is left to do.`
        : `${plan.designName}, batch ${batchId}, ${cups} ${cups === 1 ? "cup" : "cups"}.`,
    back: { to: `/batches/${batchId}`, label: "The batch" },
    batchId,
    blank: plan.blank.supply.name,
    version: plan.versionNumber,
    printedOn: sayDate(todayOf(studio), todayOf(studio)),
    room: roomSaid(studio),
    recoat: batch.next && recoatOf(batch, batch.next.cups, studio.now().toString()),
    layers: layers.map((layer) => ({
      ...layer,
      cautionNumbers: layer.allCautions.map((one) => cautions.indexOf(one) + 1).sort((a, b) => a - b),
    })),
    cautions,
  }
}

/** "26 °C, 40 % humidity": the room that pot lives are worked out for; null: none was said today. */
function roomSaid(studio: Studio): string | null {
  const room = roomOn(studio, todayOf(studio))
  return room && sayRoom(room, settingsOf(studio).units)
}

/** The card's layers of a batch, with the cups each is for. */
export function cardLayers(
  studio: Studio,
  batch: BatchProgress,
): (CardLayer & { cupIds: readonly number[]; problem: string | null })[] {
  const measures = measuresOf(studio)
  const hazards = new Map<number, readonly Hazard[]>(
    suppliesList(studio).map((supply) => [supply.id, supply.hazards.filter(isHazard)]),
  )
  const today = todayOf(studio)
  let offcuts = offcutsFor(studio, batch.plan, today)
  return inRoom(passesToFinish(batch, []), roomOn(studio, today)).map((pass) => {
    const need = needOf(batch.plan, pass, measures, offcuts)
    offcuts = withoutDrawn(offcuts, need.draws)
    // too warm for a mix to last even one cup: told, and worked out for the data sheet's room
    const problem = roomProblem(batch.plan, pass, measures)
    const within = problem === null ? warmed(measures, pass) : measures
    return {
      ...layerCard(batch.plan, pass.layer, need, pass.cupIds.length, within, { hazards }),
      cupIds: pass.cupIds,
      problem,
    }
  })
}

function layerView(studio: Studio, batch: BatchProgress, layer: ReturnType<typeof cardLayers>[number]) {
  const serialOf = new Map(batch.cups.map((cup) => [cup.id, cup.serial]))
  const serials = layer.cupIds.map((id) => serialOf.get(id) ?? "")
  const mixes = layer.mixes.map((mix, index) => mixView(studio, batch.id, layer, mix, index, serials))
  const lists = new Set(mixes.map((mix) => mix.cautions.join("\n")))
  return {
    position: layer.position,
    name: layer.name,
    said: sayLayer(layer),
    problem: layer.problem,
    instead: insteadOfOn({
      layers: batch.plan.layers.filter(({ position }) => position === layer.position),
    }).filter(({ ratio }) => ratio !== null),
    cups: layer.cups,
    serials: range(serials),
    handsOn: layer.handsOnMin === 0 ? null : sayMinutes(layer.handsOnMin),
    turner: layer.turnerMin === 0 ? null : sayMinutes(layer.turnerMin),
    gist: gistOf(mixes),
    groups: grouped(mixes),
    // the same for every mix is said once
    mixes: mixes.map((mix) => ({ ...mix, cautions: lists.size > 1 ? mix.cautions : [] })),
    mixCautions: lists.size === 1 ? (mixes[0]?.cautions ?? []) : [],
    items: layer.items.map((item) => itemView(studio, item)),
    // on paper a supply is one amount, though some of it comes from an offcut
    sheetItems: bySupply(layer.items).map((item) => itemView(studio, item)),
    // what the mixes said already is not said again
    cautions: layer.cautions.every((one) => mixes.some((mix) => mix.cautions.includes(one)))
      ? []
      : layer.cautions,
    allCautions: [...new Set([...mixes.flatMap((mix) => mix.cautions), ...layer.cautions])],
    next: sayNext(layer.next),
  }
}

/** The layer's first mix, seen while it is folded: "A 71.5 mL + B 71.5 mL, 4 mixes". */
function gistOf([mix, ...more]: readonly MixView[]): string | null {
  if (!mix) return null
  const parts = mix.parts.map(({ part, measured }) => `${part} ${measured}`).join(" + ")
  return more.length === 0 ? parts : `${parts}, ${more.length + 1} mixes`
}

type MixView = ReturnType<typeof mixView>

/** Mixes that are the same, one after the other: on paper they take one line. */
function grouped(mixes: readonly MixView[]): { mix: MixView; isEach: boolean; said: string }[] {
  const figures = (mix: MixView) =>
    JSON.stringify([
      mix.cups,
      mix.system,
      mix.parts.map((part) => part.amount),
      mix.stirredIn.map((one) => one.amount),
    ])
  const groups: MixView[][] = []
  for (const mix of mixes) {
    const last = groups.at(-1)
    if (last?.[0] && figures(last[0]) === figures(mix)) last.push(mix)
    else groups.push([mix])
  }
  return groups.map((group) => {
    const [mix] = group as [MixView, ...MixView[]]
    const which = group.map(({ from, to }) => (from === to ? `${from}` : `${from}–${to}`)).join(", ")
    return { mix, isEach: group.length > 1, said: `cups ${which}` }
  })
}

function mixView(
  studio: Studio,
  batchId: number,
  layer: CardLayer,
  mix: CardMix,
  index: number,
  serials: readonly string[],
) {
  const { units } = settingsOf(studio)
  const { from, to, count } = mix.cups
  return {
    id: `${batchId}-${layer.position}-${index + 1}`,
    label: mix.label,
    system: mix.system.name,
    ratio: `${mix.system.ratioA} : ${mix.system.ratioB} by ${mix.system.ratioBasis === "mass" ? "weight" : "volume"}`,
    cups: count,
    from,
    to,
    serials: range(serials.slice(from - 1, to)),
    parts: mix.parts.map((part) => ({
      part: part.part,
      supply: part.supply,
      supplyId: part.supplyId,
      amount: part.amount,
      measured: exactly(part.measured),
      also: part.also && formatAmount(part.also.amount, part.also.baseUnit, "metric"),
      working: readableWorking(part.working, units),
    })),
    mixed: formatAmount(mix.mixedUl, "uL", "metric"),
    warning: mix.warning,
    stirredIn: mix.stirredIn.map((item) => itemView(studio, item)),
    items: mix.items.map((item) => itemView(studio, item)),
    scale: mix.scale?.map((reading) => ({
      added: reading.added,
      reads: `${fieldAmount(reading.readsMg, "g")} g`,
    })),
    mixingMin: mix.mixingMin,
    workMin: mix.workMin,
    potLifeMin: mix.potLifeMin,
    potLife: mix.potLife,
    cautions: mix.cautions,
  }
}

function bySupply(items: readonly CardItem[]): CardItem[] {
  const totals = new Map<number, CardItem>()
  for (const item of items) {
    const known = totals.get(item.supplyId)
    totals.set(item.supplyId, { ...item, amount: (known?.amount ?? 0) + item.amount })
  }
  return [...totals.values()]
}

function itemView(studio: Studio, item: CardItem) {
  const { units } = settingsOf(studio)
  const { supplyId, supply, amount, aCup, baseUnit, working } = item
  const say = (some: number) => sayAmount(some, { baseUnit, sheet: sheetsOf(studio).get(supplyId) }, units)
  return {
    supplyId,
    supply,
    amount,
    shown: say(amount),
    // pieces are seen to be one a cup
    aCup: aCup === null || baseUnit === "each" ? null : say(aCup),
    isEach: baseUnit === "each",
    working: readableWorking(working, units),
  }
}

function sayNext(next: AfterLayer): string {
  switch (next.kind) {
    case "full cure":
      return `Last layer: full cure after ${sayMinutes(next.minutes)}.`
    case "next layer": {
      const from = next.earliestMin === 0 ? "at once" : `after ${sayMinutes(next.earliestMin)}`
      const until =
        next.latestMin === null
          ? ""
          : `, at the latest after ${sayMinutes(next.latestMin)}; later, scuff and wipe first`
      return `${next.name} ${from}${until}.`
    }
  }
}

/** "T0001 to T0004". */
function range(serials: readonly string[]): string {
  const [first = "", last = first] = [serials[0], serials.at(-1)]
  return first === last ? first : `${first} to ${last}`
}
