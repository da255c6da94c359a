import type { Request } from "express"
import { Temporal } from "temporal-polyfill"
import { sayDate } from "../domain/dates.ts"
import { cautionsFor, type Hazard, isHazard, sayHazards } from "../domain/hazards.ts"
import type { Layer, Plan, PlannedMix } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { sayRoom } from "../domain/room.ts"
import { knownCost } from "../domain/unpriced.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { offcutIn, saySize } from "../shelf/service.ts"
import { suppliesList } from "../supplies/service.ts"
import { type FormState, idParam } from "../web/forms.ts"
import { Coat } from "./forms.ts"
import { asksAsPoured } from "./measured.ts"
import { readMeasured } from "./measured-form.ts"
import { measuringView } from "./measuring-view.ts"
import { leftWords, otherWays } from "./other-ways.ts"
import { dueFor } from "./passes.ts"
import { recoatOf, withScuffing } from "./recoat.ts"
import { inRoom, readRoom, roomOn, roomProposed } from "./room.ts"
import { sayOf } from "./say.ts"
import {
  type BatchProgress,
  batchProgress,
  type CupProgress,
  cupCosts,
  type LayerDone,
  measuredWith,
  mixesOn,
  passesToFinish,
  passFor,
  type ScuffRecipe,
  scuffRecipe,
  unpricedOnCups,
  wentOn,
} from "./service.ts"
import { shortPage } from "./short-page.ts"
import { canBeStripped } from "./strip.ts"
import { choiceText, insteadOfOn } from "./substitutes.ts"
import { type Missing, measuresOf, roomProblem, type Taken, take } from "./take.ts"
import { takingView } from "./taking-view.ts"

/** A batch: what comes next and from which bottles, how to finish, its layers and cups. */
export function batchPage(studio: Studio, req: Request, state: FormState | null) {
  const batchId = idParam(req)
  const batch = batchProgress(studio, batchId)
  const { plan, cups, next } = batch
  const { units } = settingsOf(studio)
  const mixes = mixesOn(studio, batchId)
  const costs = cupCosts(studio.file, batchId)
  const unpriced = unpricedOnCups(studio.file, batchId)
  const inWork = cups.filter((cup) => cup.state === "in work").length
  return {
    title: `${plan.designName}, batch ${batch.id}`,
    lead: leadOf(batch),
    back: { to: "/batches", label: "Batches" },
    batchId,
    startedOn: batch.startedOn,
    note: batch.note,
    /** of all its cups together: what the sums leave out */
    unpriced: knownCost(
      cups.reduce((sum, { id }) => sum + (costs.get(id) ?? 0), 0),
      cups.flatMap(({ id }) => unpriced.get(id) ?? []),
    ),
    cups: cups.map((cup) => ({
      ...cup,
      cost: knownCost(costs.get(cup.id) ?? 0, unpriced.get(cup.id) ?? []),
      inWork: cup.state === "in work",
      pill: cup.state.replace(" ", "-"),
    })),
    layers: plan.layers.map((layer) => {
      const done = batch.doneAt.get(layer.position)
      return {
        position: layer.position,
        name: layer.name,
        doneAt: done?.at ?? null,
        room: done ? sayRoom(done.room, units) : null,
        mixes: mixes.filter((mix) => mix.position === layer.position),
        coats: done && coatsSaid(studio, done, cups.length),
        early: done?.early ?? 0,
        some: done !== undefined && done.cups < cups.length ? `${done.cups} of ${cups.length} cups` : null,
        isNext: layer.position === next?.layer.position,
      }
    }),
    short: state && shortCoat(studio, batch, req, state),
    ...toDo(studio, batch, state),
    inWork,
    offcuts: offcutsOf(studio, batchId),
    room: roomView(studio, state),
    again: againChoices(studio, batch, state),
    strip: stripChoices(batch, state),
    wentOn: wentOn(studio, batchId).map((one) => ({
      ...one,
      isOut: one.fromBatchId === batchId,
      cups: one.serials.join(", "),
    })),
  }
}

/** "2 coats: today, 09:30, 09:31" where a cup has more than one coat of a layer; null: one each. */
function coatsSaid(studio: Studio, { coats, cupsWithAll }: LayerDone, cups: number): string | null {
  if (coats.length < 2) return null
  const { timeZone } = settingsOf(studio)
  let said = ""
  const times = coats.map((coat) => {
    const clock = Temporal.Instant.from(coat).toZonedDateTimeISO(timeZone)
    const day = sayDate(clock.toPlainDate().toString(), todayOf(studio))
    const time = clock.toPlainTime().toString({ smallestUnit: "minute" })
    if (day === said) return time
    said = day
    return `${day}, ${time}`
  })
  const where = cupsWithAll < cups ? ` on ${cupsWithAll} of ${cups} cups` : ""
  return `${coats.length} coats${where}: ${times.join(", ")}`
}

function leadOf({ next, cups }: BatchProgress): string {
  if (cups.length === 0) return "No cup is in this batch any more."
  const inWork = cups.some((cup) => cup.state === "in work")
  if (next === null) return inWork ? "Every layer is on." : "Every cup of this batch is finished."
  return `Next: ${next?.layer.name} on ${next?.cups.length} of ${cups.length} ${cups.length === 1 ? "cup" : "cups"}.`
}

/** The next layer and the later ones, with the bottles they come from. */
function toDo(studio: Studio, batch: BatchProgress, state: FormState | null) {
  const { plan, next } = batch
  if (next === null) return { next: null, several: false, later: [], lacking: [], insteadOf: [] }
  const on = todayOf(studio)
  const at = studio.now().toString()
  const recipe = scuffRecipe(studio)
  const recoat = recoatOf(batch, next.cups, at)
  const room = roomOn(studio, on)
  const late = recoat?.late.length ?? 0
  const taking = take(
    studio,
    plan,
    withScuffing(batch, inRoom(passesToFinish(batch, []), room), at, true, recipe),
    on,
  )
  const [first] = taking.taken
  const now = taking.taken.filter(({ pass }) => pass === first?.pass)
  const layer = now.find(({ scuffMin }) => scuffMin === null)
  return {
    next: {
      position: next.layer.position,
      name: next.layer.name,
      ...whichCups(next.cups, state),
      recoat,
      scuff: late === 0 ? null : { cups: late, minutes: recipe.minutes, isEmpty: recipe.uses.length === 0 },
      ...measuringOf(plan, layer, next.cups.length, state),
      takes: takingView(studio, taking, now, on),
      roomProblem: layer ? roomProblem(plan, layer.pass, measuresOf(studio)) : null,
      ...cautionsOf(studio, next.layer, layer?.need.mixes ?? [], late > 0 ? recipe : null),
    },
    /** finishing at once gives more than one layer the same time */
    several: passesToFinish(batch, []).length > 1,
    later: takingView(
      studio,
      taking,
      taking.taken.filter((one) => !now.includes(one)),
      on,
    ),
    /** warned of before it stops the work */
    lacking: taking.kind === "short" ? lacksView(studio, batch, taking.missing) : [],
    insteadOf: insteadOfOn(plan).map((one) => ({ ...one, back: choiceText(one.back) })),
  }
}

/** What is missing, and what could be taken in its place; of a resin of which A and B lack, said once. */
function lacksView(studio: Studio, batch: BatchProgress, missing: readonly Missing[]) {
  const room = roomOn(studio, todayOf(studio))
  const passesOf = (of: BatchProgress) => inRoom(passesToFinish(of, []), room)
  const offered = new Set<string>()
  return missing.map((lack) => {
    const others = otherWays(studio, batch.plan, lack.supplyId)
      .map((way) => ({
        value: choiceText(way.choice),
        label: `Use ${way.name}: ${leftWords(studio, batch, passesOf, [], way)}`,
      }))
      .filter(({ value }) => !offered.has(value))
    for (const { value } of others) offered.add(value)
    return { ...lack, others }
  })
}

function measuringOf(plan: Plan, now: Taken | undefined, cups: number, state: FormState | null) {
  const measuring = now ? measuringView(plan, now.need, cups) : { pours: [], losses: [] }
  return {
    measuring,
    canMeasure: measuring.pours.length + measuring.losses.length > 0,
    /** unfolded while something typed there is in the way */
    measureOpen: state?.problems.some(({ field }) => /^(?:poured|weighed)\[/.test(field ?? "")) ?? false,
    asksAsPoured: asksAsPoured(state),
  }
}

/** The cups of the next coat; shown again, those that were chosen, with the fold they stand in open. */
function whichCups(cups: readonly CupProgress[], state: FormState | null) {
  const ticked = tickedIn(state, "")
  const some = cups.some(({ id }) => ticked?.has(String(id)))
  const shown = cups.map(({ id, serial }) => ({
    id,
    serial,
    chosen: !some || ticked?.has(String(id)) === true,
  }))
  const typed = state?.form === "" ? (state.values.happenedAt?.[0] ?? "") : ""
  return { cups: shown, differentOpen: typed !== "" || shown.some(({ chosen }) => !chosen) }
}

/** Ids of the cups ticked in a form that is shown again; null when that was another form. */
function tickedIn(state: FormState | null, form: string): ReadonlySet<string> | null {
  const ids = state?.form === form ? state.values.cupIds : undefined
  return ids === undefined ? null : new Set(ids)
}

/** What to take care of in a step, and of what kind it is in a few words. */
function cautionsOf(
  studio: Studio,
  layer: Layer,
  mixes: readonly PlannedMix[],
  scuffing: ScuffRecipe | null,
): { cautions: readonly string[]; hazards: string } {
  const hazardsOf = new Map(suppliesList(studio).map(({ id, hazards }) => [id, hazards.filter(isHazard)]))
  const supplies = layer.uses.flatMap((use) =>
    "system" in use ? [use.system.partA, use.system.partB] : [use.supply],
  )
  const all = [...supplies, ...(scuffing?.uses ?? []).map(({ supply }) => supply)]
  const present = new Set<Hazard>([
    ...(scuffing === null ? [] : (["fine-dust"] as const)),
    ...all.flatMap(({ id }) => hazardsOf.get(id) ?? []),
  ])
  return {
    cautions: cautionsFor(present, { layerKind: layer.kind, mixes }),
    hazards: sayHazards(present)
      .map((label) => label.charAt(0).toLowerCase() + label.slice(1))
      .join(", "),
  }
}

/** Offcuts in packs that the batch's coats were cut from, big enough for another piece: they can be put by. */
function offcutsOf(studio: Studio, batchId: number) {
  return studio.file
    .allText<{ code: string }>(
      `SELECT DISTINCT c.code FROM cup u JOIN coat_cup o ON o.cup_id = u.id JOIN movement m ON m.coat_id = o.coat_id
         JOIN container c ON c.id = m.container_id JOIN supply s ON s.id = c.supply_id
       WHERE u.batch_id = ? AND s.sheet_width_um IS NOT NULL AND c.width_um IS NULL AND c.amount_left > 0 AND c.held = 0
       ORDER BY c.id`,
      [batchId],
    )
    .flatMap(({ code }) => {
      const offcut = offcutIn(studio, code)
      return offcut === null ? [] : [{ code, supply: offcut.supply, size: saySize(studio, offcut) }]
    })
}

/** What the room's fields begin with, and as it is said. */
function roomView(studio: Studio, state: FormState | null) {
  const room = roomOn(studio, todayOf(studio))
  return {
    ...roomProposed(studio),
    said: room && sayRoom(room, settingsOf(studio).units),
    /** unfolded while something typed there is in the way */
    isOpen: state?.problems.some(({ field }) => /^(?:room|photo)/.test(field ?? "")) ?? false,
  }
}

/** Cups that can have one more coat of the layer that is on top of them; null: none. */
function againChoices(studio: Studio, batch: BatchProgress, state: FormState | null) {
  const { plan } = batch
  const cups = batch.cups.filter((cup) => cup.state === "in work" && cup.layersDone > 0)
  if (cups.length === 0) return null
  const layers = plan.layers.filter(({ position }) => cups.some((cup) => cup.layersDone === position))
  const at = studio.now().toString()
  const late = layers.flatMap(
    ({ position }) =>
      recoatOf(
        batch,
        cups.filter((cup) => cup.layersDone === position),
        at,
      )?.late ?? [],
  ).length
  const { minutes } = scuffRecipe(studio)
  const ticked = tickedIn(state, "again")
  return {
    several: layers.length > 1,
    cups: cups.map(({ id, serial, layersDone }) => ({
      id,
      serial,
      layer: plan.layers.find(({ position }) => position === layersDone)?.name ?? "",
      chosen: ticked ? ticked.has(String(id)) : layers.length === 1,
    })),
    layers: layers.map((layer) => ({ value: layer.position, label: `${layer.position}. ${layer.name}` })),
    only: layers.length === 1 ? layers[0]?.position : null,
    scuff: late === 0 ? null : { cups: late, minutes },
    isOpen: state?.form === "again",
  }
}

/** What can be stripped and coated again; null when nothing can. */
function stripChoices({ plan, cups }: BatchProgress, state: FormState | null) {
  const eligible = cups.filter(canBeStripped)
  if (eligible.length === 0) return null
  const highest = Math.max(...eligible.map((cup) => cup.layersDone))
  const ticked = tickedIn(state, "strip")
  return {
    isOpen: state?.form === "strip",
    problem:
      state?.form === "strip"
        ? (state.problems.find(({ field }) => field === "cupIds")?.sentence ?? null)
        : null,
    cups: eligible.map(({ id, serial }) => ({
      value: id,
      label: serial,
      chosen: ticked?.has(String(id)) ?? false,
    })),
    layers: plan.layers
      .filter((layer) => layer.position <= highest)
      .map((layer) => ({ value: layer.position, label: `${layer.position}. ${layer.name}` })),
    // common practice, no source: coats are sanded or heated off, or loosened with solvent
    cautions: cautionsFor(["fine-dust", "drowsiness", "flammable-liquid"]),
  }
}

/** What to answer when a layer was refused because the shelf is short. */
function shortCoat(studio: Studio, batch: BatchProgress, req: Request, state: FormState) {
  const form = Coat.safeParse(req.body)
  if (!form.success || !req.path.endsWith("/coat")) return null
  const { scuff, answers, cupIds, position, again } = form.data
  try {
    const { layer, cups: due } = dueFor(batch, position, cupIds, again)
    const read = readMeasured(batch.plan, layer.position, form.data)
    const measured = measuredWith(read, sayOf(studio, answers).insteadOf ?? [])
    const room = readRoom(studio, form.data)
    const at = studio.now().toString()
    const passesOf = (of: BatchProgress) => {
      const mine = of.plan.layers.find((one) => one.position === layer.position) ?? layer
      const pass = { ...passFor(of, mine, due), measured, room }
      return withScuffing(of, [pass], at, scuff, scuffRecipe(studio))
    }
    return shortPage(studio, batch, { step: "coat", passesOf, answers }, state)
  } catch (error) {
    // refused for another reason: what was measured could not be read, or its ratio is far off
    if (error instanceof Refusal) return null
    throw error
  }
}
