import { HAZARD_CLASSES, type Hazard } from "../domain/hazards.ts"
import type { BaseUnit, SupplyKind } from "../domain/plan.ts"
import { Refusal, refusalOr } from "../domain/refusal.ts"
import { formatAmount } from "../domain/units.ts"
import { changed } from "../ledger/row-change.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { KINDS } from "../shelf/service.ts"
import {
  checkFigures,
  KIND_WORDS,
  lifeWords,
  rewriteSupply,
  type Supply,
  type SupplyInput,
  supplyById,
  UNIT_WORDS,
  unitIsFixedBy,
  writeSupply,
} from "../supplies/service.ts"
import { type Cells, nameKey } from "./cells.ts"
import { headKey } from "./csv-file.ts"
import type { Kind, Reading, Seen } from "./kind.ts"

/** Kinds by every word a person may have for them; of each the last is the one that is told. */
const KIND_BY_WORD: Readonly<Record<string, SupplyKind>> = Object.fromEntries([
  ...Object.entries(KIND_WORDS).map(([kind, words]) => [headKey(words), kind]),
  ...KINDS.map(({ value, label }) => [headKey(label), value]),
  ...KINDS.map(({ value }) => [value, value]),
])
const UNIT_BY_WORD: Readonly<Record<string, BaseUnit>> = Object.fromEntries([
  ...Object.entries(UNIT_WORDS).map(([unit, words]) => [headKey(words), unit]),
  ...Object.entries({
    ml: "uL",
    l: "uL",
    "fl oz": "uL",
    g: "mg",
    kg: "mg",
    oz: "mg",
    each: "each",
    piece: "each",
  }),
  ...Object.entries({ cm: "um", m: "um", "cm²": "mm2", "m²": "mm2" }).map(([word, unit]) => [
    headKey(word),
    unit,
  ]),
  ...Object.entries({ volume: "uL", weight: "mg", pieces: "each", length: "um", area: "mm2" }),
])
const HAZARD_BY_WORD = new Map<string, Hazard>(
  HAZARD_CLASSES.flatMap(({ hazard, label }) => [
    [headKey(label), hazard] as const,
    [headKey(label.replace(/ \(.*\)$/, "")), hazard] as const,
    [headKey(hazard), hazard] as const,
  ]),
)

export const SUPPLIES: Kind = {
  name: "supplies",
  title: "Supplies",
  about: "resin parts, paints, glitters, gloves, boxes",
  one: "supply",
  many: "supplies",
  columns: [
    { head: "Name", also: ["supply"], needed: true, about: "at most 80 characters", example: "Teal paint" },
    { head: "Kind", needed: true, about: KINDS.map(({ value }) => value).join(", "), example: "paint" },
    {
      head: "Counted by",
      also: ["counted in", "unit"],
      needed: true,
      about: "volume, weight, pieces, length or area",
      example: "volume",
    },
    {
      head: "Density",
      also: ["density g ml"],
      needed: false,
      about: "g/mL, from the data sheet",
      example: "",
    },
    {
      head: "Keeps",
      also: ["shelf life"],
      needed: false,
      about: "unopened: 24 months, 90 days, never",
      example: "24 months",
    },
    {
      head: "Keeps open",
      also: ["open life", "keeps after opening"],
      needed: false,
      about: "after opening: 6 months, never",
      example: "12 months",
    },
    {
      head: "Lead time days",
      also: ["lead time"],
      needed: false,
      about: "empty: as the seller says",
      example: "",
    },
    {
      head: "Minimum",
      needed: false,
      about: "below this it counts as low, with its unit",
      example: "200 mL",
    },
    {
      head: "Hazards",
      needed: false,
      about: `separated by |: ${HAZARD_CLASSES.map(({ hazard }) => hazard).join(" | ")}`,
      example: "",
    },
    { head: "Colour", also: ["color"], needed: false, about: "like #1f6f8b", example: "#1f6f8b" },
    { head: "Note", needed: false, about: "at most 500 characters", example: "Shake well" },
  ],
  open,
}

function open(studio: Studio): Reading {
  const known = new Map(
    studio.file
      .allText<{ id: number; name: string }>("SELECT id, name FROM supply")
      .map(({ id, name }) => [nameKey(name), id]),
  )
  const seen = new Set<string>()
  return {
    look([cells]) {
      if (!cells) return null
      const name = cells.needed("Name", 80)
      if (name !== null && seen.has(nameKey(name))) cells.wrong("Name", `“${name}” stands in the file twice.`)
      if (name !== null) seen.add(nameKey(name))
      const id = name === null ? undefined : known.get(nameKey(name))
      const before = id === undefined ? null : supplyById(studio, id)
      const wanted = supplyIn(cells, name ?? "", before)
      if (wanted === null || cells.problems.length > 0) return null
      const figures = refusalOr(() => checkFigures(wanted))
      if (figures instanceof Refusal) return cells.wrong(null, figures.message)
      const called = wanted.name
      if (before === null) {
        const write: Seen["write"] = (_now, made) => made("supply", writeSupply(studio, wanted))
        return { state: "new", called, says: [], write }
      }
      const fixedBy = wanted.baseUnit === before.baseUnit ? null : unitIsFixedBy(studio, before.id)
      if (fixedBy !== null) {
        return cells.wrong("Counted by", `${before.name} must stay counted as it is, because ${fixedBy}.`)
      }
      if (before.kind === "blank" && wanted.kind !== "blank") {
        return cells.wrong("Kind", `${before.name} is a blank and stays one; change it under Set up.`)
      }
      const says = differences(studio, before, wanted)
      if (says.length === 0) return { state: "same", called, says, write: () => {} }
      return {
        state: "changed",
        called,
        says: [`${before.name}: ${says.join(", ")}`],
        write: (now) => changed(now, "supply", before.id, () => rewriteSupply(studio, before.id, wanted)),
      }
    },
  }
}

/** What is left empty stays as it is; of a new supply it is not known. */
function supplyIn(cells: Cells, name: string, before: Supply | null): SupplyInput | null {
  const kind = cells.choice("Kind", KIND_BY_WORD) ?? before?.kind ?? missing(cells, "Kind")
  const baseUnit =
    cells.choice("Counted by", UNIT_BY_WORD) ?? before?.baseUnit ?? missing(cells, "Counted by")
  const densityMgPerMl = cells.scaled("Density", 1000) ?? before?.densityMgPerMl ?? null
  const colour = cells.text("Colour", 20)
  if (colour !== null && !/^#[0-9a-f]{6}$/i.test(colour)) cells.wrong("Colour", "write it like #1f6f8b.")
  const supply = {
    name: before?.name ?? name,
    kind,
    baseUnit,
    densityMgPerMl,
    shelfLife: cells.life("Keeps") ?? before?.shelfLife ?? null,
    openLife: cells.life("Keeps open") ?? before?.openLife ?? null,
    leadTimeDays: cells.whole("Lead time days", 0, 365) ?? before?.leadTimeDays ?? null,
    minimumAmount:
      (baseUnit === null ? null : cells.amount("Minimum", { baseUnit, densityMgPerMl }, "zero too")) ??
      before?.minimumAmount ??
      0,
    hazards: hazardsIn(cells) ?? before?.hazards ?? [],
    colour: colour ?? before?.colour ?? null,
    note: cells.text("Note", 500) ?? before?.note ?? "",
    keptBack: before?.keptBack ?? 0,
    sheet: before?.sheet ?? null,
    rollWidthUm: before?.rollWidthUm ?? null,
  }
  return supply.kind === null || supply.baseUnit === null
    ? null
    : { ...supply, kind: supply.kind, baseUnit: supply.baseUnit }
}

/** @returns null; what is there but not understood has been told already */
function missing(cells: Cells, head: string): null {
  return cells.said(head) === "" ? cells.wrong(head, "it is missing.") : null
}

function hazardsIn(cells: Cells): Hazard[] | null {
  const said = cells.said("Hazards")
  if (said === "") return null
  const hazards: Hazard[] = []
  for (const word of said.split(/[|;,]/).map((one) => one.trim())) {
    if (word === "") continue
    const hazard = HAZARD_BY_WORD.get(headKey(word))
    if (hazard === undefined)
      cells.wrong("Hazards", `“${word.slice(0, 40)}” is no hazard known here; see the template.`)
    else hazards.push(hazard)
  }
  return [...new Set(hazards)].sort()
}

function differences(studio: Studio, before: Supply, wanted: SupplyInput): string[] {
  const { units } = settingsOf(studio)
  const amount = (value: number) => formatAmount(value, wanted.baseUnit, units)
  const told: [what: string, was: string, willBe: string][] = [
    ["kind", before.kind, wanted.kind],
    ["counted by", UNIT_WORDS[before.baseUnit], UNIT_WORDS[wanted.baseUnit]],
    ["density", String(before.densityMgPerMl ?? "not known"), String(wanted.densityMgPerMl ?? "not known")],
    ["keeps", lifeWords(before.shelfLife), lifeWords(wanted.shelfLife)],
    ["keeps open", lifeWords(before.openLife), lifeWords(wanted.openLife)],
    [
      "lead time",
      String(before.leadTimeDays ?? "as the seller says"),
      String(wanted.leadTimeDays ?? "as the seller says"),
    ],
    ["minimum", amount(before.minimumAmount), amount(wanted.minimumAmount)],
    ["hazards", [...before.hazards].sort().join(" | "), [...wanted.hazards].sort().join(" | ")],
    ["colour", before.colour ?? "none", wanted.colour?.toLowerCase() ?? "none"],
    ["note", before.note, wanted.note],
  ]
  return told
    .filter(([, was, willBe]) => was !== willBe)
    .map(([what, was, willBe]) => `${what} ${was} → ${willBe}`)
}
