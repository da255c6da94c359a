import { z } from "zod"
import { isResin } from "../domain/layers.ts"
import type { Plan, Portions, ResinSystem } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { inBaseUnit, otherWay, volumeUl } from "../domain/resin-parts.ts"
import { fieldUnit, parseAmount, type UnitSystem } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { checkbox, count, id, optionalText, rows } from "../web/fields.ts"
import type { CameFrom } from "./came-from.ts"
import type { CoatUse, WrittenCoat } from "./coats.ts"
import type { MeasureInput } from "./measure.ts"
import type { Measured, Poured, Weighed } from "./measured.ts"
import { supplyIn } from "./take.ts"

const typed = (label: string) => optionalText(40, label)

/** A and B as poured, and what was left in the mixing cup; a line for each mix, empty where nothing was measured. */
const Pour = { a: typed("A poured"), b: typed("B poured"), left: typed("Left in the mixing cup") }
/** A can or jar before and after, or what it lost. */
const Loss = { supplyId: id, before: typed("Before"), after: typed("After"), used: typed("Used") }

const which = { use: count(100, "Resin", 0), nth: count(1000, "Mix", 0) }
export const poured = rows(z.object({ ...which, ...Pour }), { max: 200, blankWhen: "use" })
export const weighed = rows(z.object(Loss), { max: 200, blankWhen: "supplyId" })
/** The same for coats that were written before. */
export const pouredBefore = rows(z.object({ coatId: id, ...Pour }), { max: 200, blankWhen: "coatId" })
export const weighedBefore = rows(z.object({ coatId: id, ...Loss }), { max: 200, blankWhen: "supplyId" })
/** How much one of several containers gave. */
export const cameFrom = rows(
  z.object({ coatId: id, supplyId: id, containerId: id, amount: typed("It gave") }),
  {
    max: 400,
    blankWhen: "containerId",
  },
)
export const asPoured = checkbox

interface TypedPour {
  a: string
  b: string
  left: string
}

/**
 * A and B as a person typed them, by the maker's basis, mL or g, and what was left of them.
 *
 * @param field the line's name in the page, for what cannot be read
 * @returns null when nothing was typed
 */
export function readPour(
  system: ResinSystem,
  line: TypedPour,
  field: string,
): Pick<Poured, "parts" | "leftUl"> | null {
  if (line.a === "" && line.b === "" && line.left === "") return null
  if ((line.a === "") !== (line.b === "")) {
    throw new Refusal(
      `Say how much of ${system.partA.name} and of ${system.partB.name} was poured: both, or neither.`,
      { field: `${field}[${line.a === "" ? "a" : "b"}]` },
    )
  }
  const part = (name: "a" | "b") => {
    const supply = name === "a" ? system.partA : system.partB
    const [unit, bare] = system.ratioBasis === "volume" ? (["uL", "mL"] as const) : (["mg", "g"] as const)
    const read = parseAmount(line[name], unit, bare, supply.densityMgPerMl)
    if (!read.ok) throw new Refusal(read.message, { field: `${field}[${name}]` })
    return inBaseUnit(supply, read.amount, system)
  }
  return {
    parts: line.a === "" ? null : { a: part("a"), b: part("b") },
    leftUl: line.left === "" ? null : readLeft(system, line.left, `${field}[left]`),
  }
}

/** What was left in a mixing cup, µL of mixed resin, by its marks or on the scale. Zero is an answer. */
function readLeft(system: ResinSystem, text: string, field: string): number {
  if (/^0+(?:[.,]0+)?\s*\D*$/.test(text)) return 0
  const parts: Portions = { basis: system.ratioBasis, a: system.ratioA * 1000, b: system.ratioB * 1000 }
  const byMass = parts.basis === "mass" ? parts : otherWay(system, parts)
  const density = byMass && Math.round(((byMass.a + byMass.b) / volumeUl(system, parts)) * 1000)
  const read = parseAmount(text, "uL", system.ratioBasis === "mass" ? "g" : "mL", density)
  if (read.ok) return read.amount
  throw new Refusal(read.message, { field })
}

interface TypedLoss {
  supplyId: number
  before: string
  after: string
  used: string
}

interface Losing {
  id: number
  name: string
  baseUnit: "uL" | "mg" | "um" | "mm2" | "each"
  densityMgPerMl: number | null
}

/**
 * What a can or jar lost: its weight before less its weight after, or what was typed as used.
 *
 * @returns null when nothing was typed
 */
export function readLoss(supply: Losing, line: TypedLoss, field: string): Weighed | null {
  const { before, after, used } = line
  if (used !== "") {
    const read = parseAmount(used, supply.baseUnit, "mL", supply.densityMgPerMl)
    if (!read.ok) throw new Refusal(read.message, { field: `${field}[used]` })
    return { supplyId: supply.id, amount: read.amount, basis: "measured" }
  }
  if (before === "" && after === "") return null
  if (before === "" || after === "") {
    throw new Refusal(`Weigh ${supply.name} before and after: both, or neither.`, {
      field: `${field}[${before === "" ? "before" : "after"}]`,
    })
  }
  const mg = (text: string, name: string) => {
    const read = parseAmount(text, "mg", "g")
    if (!read.ok) throw new Refusal(read.message, { field: `${field}[${name}]` })
    return read.amount
  }
  const lost = mg(before, "before") - mg(after, "after")
  if (lost < 0) {
    throw new Refusal(`${supply.name} weighs more after than before: were the two mixed up?`, {
      field: `${field}[after]`,
    })
  }
  if (supply.baseUnit === "mg") return { supplyId: supply.id, amount: lost, basis: "weighed" }
  if (supply.baseUnit !== "uL" || supply.densityMgPerMl === null) {
    throw new Refusal(`${supply.name} cannot be weighed: give it its density first, or say what was used.`, {
      field: `${field}[before]`,
    })
  }
  return {
    supplyId: supply.id,
    amount: Math.round((lost * 1000) / supply.densityMgPerMl),
    basis: "weighed",
  }
}

/**
 * What was measured while a layer of a plan was put on.
 *
 * @returns null when nothing was
 * @throws {Refusal} what cannot be read, beside its field
 */
export function readMeasured(
  plan: Plan,
  position: number,
  form: {
    poured: z.output<typeof poured>
    weighed: z.output<typeof weighed>
    asPoured: boolean
  },
): Measured | null {
  const resins = plan.layers.find((layer) => layer.position === position)?.uses.filter(isResin) ?? []
  const pours = form.poured.flatMap(({ use, nth, ...line }, index) => {
    const system = resins[use]?.system
    if (!system) throw new Refusal("This step has no such mix.")
    const read = readPour(system, line, `poured[${index}]`)
    return read === null ? [] : [{ use, nth, ...read }]
  })
  const losses = form.weighed.flatMap((line, index) => {
    const read = readLoss(supplyIn(plan, line.supplyId), line, `weighed[${index}]`)
    return read === null ? [] : [read]
  })
  if (pours.length === 0 && losses.length === 0) return null
  return { poured: pours, weighed: losses, asPoured: form.asPoured }
}

/**
 * What was measured of coats that are written.
 *
 * @throws {Refusal} what cannot be read, beside its field; a coat that is not there
 */
export function readMeasuredBefore(
  coats: readonly WrittenCoat[],
  form: { poured: z.output<typeof pouredBefore>; weighed: z.output<typeof weighedBefore> },
): Pick<MeasureInput, "poured" | "weighed"> {
  const gone = () => new Refusal("That coat is not one of this layer any more.", { status: 409 })
  return {
    poured: form.poured.flatMap(({ coatId, ...line }, index) => {
      const mix = coats.find((coat) => coat.coatId === coatId)?.mix
      if (!mix) throw gone()
      const read = readPour(mix.system, line, `poured[${index}]`)
      return read === null ? [] : [{ coatId, ...read }]
    }),
    weighed: form.weighed.flatMap(({ coatId, ...line }, index) => {
      const coat = coats.find((one) => one.coatId === coatId)
      const use = coat?.uses.find((one) => one.supplyId === line.supplyId)
      if (!use) throw gone()
      const supply = { ...use, id: use.supplyId, name: use.supply }
      const read = readLoss(supply, line, `weighed[${index}]`)
      return read === null ? [] : [{ coatId, ...read }]
    }),
  }
}

/**
 * Which containers gave how much, as a person typed it; what stays empty is not said.
 *
 * @throws {Refusal} what cannot be read, beside its field; a coat or a supply that is not there
 */
export function readCameFrom(
  studio: Studio,
  coats: readonly WrittenCoat[],
  lines: z.output<typeof cameFrom>,
): NonNullable<MeasureInput["from"]> {
  const { units } = settingsOf(studio)
  const said = new Map<
    string,
    CameFrom & { field: string; given: { containerId: number; amount: number }[] }
  >()
  for (const [index, { coatId, supplyId, containerId, amount }] of lines.entries()) {
    if (amount === "") continue
    const use = coats.find((coat) => coat.coatId === coatId)?.uses.find((one) => one.supplyId === supplyId)
    if (!use) throw new Refusal("That coat is not one of this layer any more.", { status: 409 })
    const field = `from[${index}][amount]`
    const one = said.get(`${coatId} ${supplyId}`) ?? { coatId, supplyId, field, given: [] }
    said.set(`${coatId} ${supplyId}`, one)
    one.given.push({ containerId, amount: readGiven(use, amount, field, units) })
  }
  return [...said.values()]
}

/** Zero is an answer: nothing came from there. */
function readGiven(use: CoatUse, text: string, field: string, units: UnitSystem): number {
  if (/^0+(?:[.,]0+)?\s*\D*$/.test(text)) return 0
  const read = parseAmount(text, use.baseUnit, fieldUnit(use.baseUnit, units), use.densityMgPerMl)
  if (read.ok) return read.amount
  throw new Refusal(read.message, { field })
}
