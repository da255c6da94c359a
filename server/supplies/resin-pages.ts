import type { Router } from "express"
import { z } from "zod"
import { cautionsFor, isHazard } from "../domain/hazards.ts"
import type { PlanSupply, ResinSystem } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { mixedDensity } from "../domain/resin-parts.ts"
import { parseAmount } from "../domain/units.ts"
import type { Act } from "../ledger/act.ts"
import { changed, made } from "../ledger/row-change.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import {
  chosen,
  count,
  decimal,
  idempotencyKey,
  oneOf,
  orEmpty,
  orRefuse,
  rows,
  text,
} from "../web/fields.ts"
import { type FormState, formPage, idParam, rowsTyped } from "../web/forms.ts"
import { amountText, typedAmount } from "./entry.ts"
import { keepResinSubstitutes, possibleResinSubstitutes, resinSubstitutes } from "./resin-substitutes.ts"
import {
  addResinSystem,
  changeResinSystem,
  type ResinSystemInput,
  resinSystemById,
  resinSystems,
  setDensity,
  suppliesList,
  supplyById,
} from "./service.ts"
import { setUp } from "./set-up.ts"

const MOST_HOURS = 10_000
const hours = (label: string) => decimal({ min: 0, max: MOST_HOURS, label, unit: "hours" })
const part = (label: string) => decimal({ min: 0, max: 10_000, label, unit: "parts" })
const density = (label: string) => orEmpty(decimal({ min: 0.5, max: 3, label, unit: "g/mL" }))

const SystemForm = z.object({
  key: idempotencyKey,
  name: text(80, "Name"),
  partASupplyId: chosen("Part A"),
  partBSupplyId: chosen("Part B"),
  ratioBasis: oneOf(["volume", "mass"], "Mixed"),
  ratioA: part("Parts of A"),
  ratioB: part("Parts of B"),
  densityA: density("Density of A"),
  densityB: density("Density of B"),
  potLifeMin: count(10_000, "Pot life"),
  largestMix: typedAmount("Largest safe mix"),
  mixingMin: count(1_000, "Measuring and stirring one mix", 0),
  cupWorkMin: count(1_000, "Coating one cup"),
  recoatEarliestHours: hours("Next coat, earliest"),
  recoatLatestHours: orEmpty(hours("Next coat, latest")),
  fullCureHours: hours("Full cure"),
  mostPigment: orEmpty(decimal({ min: 0.0001, max: 100, label: "Most pigment", unit: "%" })),
  // a form without them leaves them as they are
  asksSubstitutes: z.literal("on", "Open this page again and save once more.").optional(),
  substitutes: rows(z.object({ systemId: chosen("May be used in its place") }), {
    max: 20,
    blankWhen: "systemId",
    what: "substitutes",
  }),
})

const SPARE_SUBSTITUTES = 1

/** Resin systems: all of them, a new one, and one that is changed. */
export function resinPages(router: Router, studio: Studio): void {
  router.get("/setup/resin-systems", (_req, res) => {
    res.page("supplies/resin-systems", {
      title: "Resin systems",
      back: { to: "/setup", label: "Set up" },
      lead: "Part A and part B, and what their data sheet says of mixing them.",
      systems: resinSystems(studio).map((system) => ({
        id: system.id,
        name: system.name,
        about: `${system.ratioA} : ${system.ratioB} by ${system.ratioBasis === "mass" ? "weight" : "volume"}`,
      })),
      hasParts: partsOf(studio, "resin").length >= 2,
    })
  })

  formPage(router, {
    path: "/setup/resin-systems/new",
    view: "supplies/resin-system",
    show: (_req, state) => ({ title: "A new resin system", ...systemModel(studio, null, state) }),
    form: SystemForm,
    save: (input, req, res) => {
      const done = setUp(studio, { req, res }, input, (now) => {
        keepDensities(now, studio, input)
        return {
          answer: made(now, "resin-system", () => addResinSystem(studio, toSystem(studio, input))),
          summary: `${input.name} is added to the resin systems`,
        }
      })
      res.saved(`${done.summary}.`, { to: "/setup/resin-systems", undo: done.actionId })
    },
  })

  formPage(router, {
    path: "/setup/resin-systems/:id",
    view: "supplies/resin-system",
    show: (req, state) => {
      const system = resinSystemById(studio, idParam(req))
      return { title: system.name, ...systemModel(studio, system, state) }
    },
    form: SystemForm,
    save: (input, req, res) => {
      const id = idParam(req)
      const done = setUp(studio, { req, res }, input, (now) => {
        keepDensities(now, studio, input)
        changed(now, "resin-system", id, () => {
          changeResinSystem(studio, id, toSystem(studio, input))
          if (!input.asksSubstitutes) return
          keepResinSubstitutes(
            studio,
            id,
            input.substitutes.map(({ systemId }) => systemId),
          )
        })
        return { summary: `The resin system ${input.name} is changed`, answer: id }
      })
      res.saved(`${done.summary}. Coats already made keep what they were worked out with.`, {
        to: "/setup/resin-systems",
        undo: done.actionId,
      })
    },
  })
}

type SystemTyped = z.output<typeof SystemForm>

/** Densities are the parts' own; asked for here too, where a ratio by weight needs them. */
function keepDensities(now: Act, studio: Studio, input: SystemTyped): void {
  for (const [supplyId, typed] of [
    [input.partASupplyId, input.densityA],
    [input.partBSupplyId, input.densityB],
  ] as const) {
    if (typed === null || !suppliesList(studio).some(({ id }) => id === supplyId)) continue
    changed(now, "supply", supplyId, () => setDensity(studio, supplyId, Math.round(typed * 1000)))
  }
}

/** By volume, or by weight where the densities of both parts are known. */
function largestMixUl(studio: Studio, input: SystemTyped): number {
  const bare = settingsOf(studio).units === "us" ? "fl oz" : "mL"
  const densityOf = (supplyId: number) =>
    suppliesList(studio).find(({ id }) => id === supplyId)?.densityMgPerMl ?? null
  const [a, b] = [densityOf(input.partASupplyId), densityOf(input.partBSupplyId)]
  if (a !== null && b !== null) {
    const read = parseAmount(input.largestMix, "uL", bare, mixedDensity(input, a, b))
    return orRefuse(read, "largestMix").amount
  }
  const read = parseAmount(input.largestMix, "uL", bare)
  if (!read.ok && parseAmount(input.largestMix, "mg", "g").ok) {
    const message =
      "To give the largest mix by weight, put in the densities of A and B too; or write it like 500 mL."
    throw new Refusal(message, { field: "largestMix" })
  }
  return orRefuse(read, "largestMix").amount
}

function toSystem(studio: Studio, input: SystemTyped): ResinSystemInput {
  const [ratioA, ratioB] = wholeRatio(input.ratioA, input.ratioB)
  return {
    name: input.name,
    partASupplyId: input.partASupplyId,
    partBSupplyId: input.partBSupplyId,
    ratioBasis: input.ratioBasis,
    ratioA,
    ratioB,
    potLifeMin: input.potLifeMin,
    largestMixUl: largestMixUl(studio, input),
    mixingMin: input.mixingMin,
    cupWorkMin: input.cupWorkMin,
    recoatEarliestMin: minutes(input.recoatEarliestHours),
    recoatLatestMin: input.recoatLatestHours === null ? null : minutes(input.recoatLatestHours),
    fullCureMin: minutes(input.fullCureHours),
    maxPigmentPpm: input.mostPigment === null ? null : Math.round(input.mostPigment * 10_000),
  }
}

/** The same ratio in whole numbers: 1 to 0.83 is 100 to 83. Thousandths of a part are the finest. */
function wholeRatio(a: number, b: number): readonly [number, number] {
  const [inA, inB] = [Math.round(a * 1000), Math.round(b * 1000)]
  const common = greatestCommonDivisor(inA, inB)
  // 100 : 50 stays as its label writes it
  if (Number.isInteger(a) && Number.isInteger(b)) return [a, b]
  return [inA / common, inB / common]
}

function greatestCommonDivisor(a: number, b: number): number {
  return b === 0 ? a : greatestCommonDivisor(b, a % b)
}

function systemModel(studio: Studio, system: ResinSystem | null, state: FormState | null) {
  const { units } = settingsOf(studio)
  const hazards =
    system === null ? [] : [system.partA, system.partB].flatMap((one) => hazardsOf(studio, one.id))
  return {
    ...substitutesModel(studio, system, state),
    back: { to: "/setup/resin-systems", label: "Resin systems" },
    partsForA: partsOf(studio, "resin"),
    partsForB: partsOf(studio, "hardener"),
    name: system?.name ?? "",
    partASupplyId: system?.partA.id ?? "",
    partBSupplyId: system?.partB.id ?? "",
    ratioBasis: system?.ratioBasis ?? "volume",
    ratioA: system?.ratioA ?? "",
    ratioB: system?.ratioB ?? "",
    densityA: densityText(system?.partA),
    densityB: densityText(system?.partB),
    potLifeMin: system?.potLifeMin ?? "",
    largestMix: system === null ? "" : amountText(system.largestMixUl, "uL", units),
    largestMixExample: units === "us" ? "16 fl oz" : "500 mL",
    mixingMin: system?.mixingMin ?? "",
    cupWorkMin: system?.cupWorkMin ?? "",
    recoatEarliestHours: system === null ? "" : inHours(system.recoatEarliestMin),
    recoatLatestHours: system?.recoatLatestMin == null ? "" : inHours(system.recoatLatestMin),
    fullCureHours: system === null ? "" : inHours(system.fullCureMin),
    mostPigment: system?.maxPigmentPpm == null ? "" : system.maxPigmentPpm / 10_000,
    // the caution of a big mix belongs here whatever is typed: the largest one is asked for
    cautions: cautionsFor(hazards, {
      mixes: [{ mixedUl: system?.largestMixUl ?? Number.POSITIVE_INFINITY, system }],
    }),
  }
}

function densityText(part: PlanSupply | undefined): string {
  return part?.densityMgPerMl == null ? "" : String(part.densityMgPerMl / 1000)
}

/** Which other resins may be used in its place; none are asked for before it is there. */
function substitutesModel(studio: Studio, system: ResinSystem | null, state: FormState | null) {
  const possible = system === null ? [] : possibleResinSubstitutes(studio, system.id)
  const allowed = system === null ? [] : (resinSubstitutes(studio).get(system.id) ?? [])
  const names = possible.filter(({ id }) => allowed.includes(id)).map(({ name }) => name)
  return {
    possible: possible.map(({ id, name }) => ({ value: id, label: name })),
    substituteCount: names.length === 0 ? "nothing else" : names.join(", "),
    substitutes: rowsTyped(state, "substitutes") ?? [
      ...allowed.map((systemId) => ({ systemId })),
      ...Array.from({ length: SPARE_SUBSTITUTES }, () => ({ systemId: "" })),
    ],
    // nothing wrong may hide in a closed fold
    unfolded: state !== null,
  }
}

function hazardsOf(studio: Studio, supplyId: number) {
  return supplyById(studio, supplyId).hazards.filter(isHazard)
}

/** What can be a part: its own kind first, then the other's, then anything else counted by volume or weight. */
function partsOf(studio: Studio, first: "resin" | "hardener"): { id: number; name: string }[] {
  const all = suppliesList(studio).filter(({ baseUnit }) => baseUnit === "uL" || baseUnit === "mg")
  const place = (kind: string) => (kind === first ? 0 : kind === "resin" || kind === "hardener" ? 1 : 2)
  return all.toSorted((one, other) => place(one.kind) - place(other.kind))
}

function inHours(min: number): string {
  // four decimals of an hour bring every minute back
  return String(Number((min / 60).toFixed(4)))
}

function minutes(value: number): number {
  return Math.round(value * 60)
}
