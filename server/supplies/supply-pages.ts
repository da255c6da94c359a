import type { Router } from "express"
import { z } from "zod"
import { cautionsFor, HAZARD_CLASSES, type Hazard, isHazard } from "../domain/hazards.ts"
import { type SheetSize, SUPPLY_KINDS } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { UnitSystem } from "../domain/units.ts"
import { changed, made } from "../ledger/row-change.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import {
  anyOf,
  checkbox,
  chosen,
  count,
  decimal,
  idempotencyKey,
  longText,
  oneOf,
  optionalText,
  orEmpty,
  rows,
  text,
} from "../web/fields.ts"
import { type FormState, formPage, idParam, rowsTyped } from "../web/forms.ts"
import {
  amountOrZero,
  amountText,
  LIFE_CHOICES,
  lengthOrZero,
  lengthText,
  lengthUnit,
  lifeFields,
  lifeUnit,
  lifeValue,
  readLife,
  typedAmount,
} from "./entry.ts"
import {
  addSupply,
  blanks,
  changeSupply,
  packsOfSupply,
  type Supply,
  type SupplyInput,
  suppliesList,
  supplyById,
  unitIsFixedBy,
} from "./service.ts"
import { setUp } from "./set-up.ts"
import { type Allowed, keepSubstitutes, possibleSubstitutes, RATIO_PPM, substitutes } from "./substitutes.ts"
import { asChoices, howMany, KIND_WORDS, lifeWords, UNIT_WORDS } from "./words.ts"

const SupplyForm = z.object({
  key: idempotencyKey,
  name: text(80, "Name"),
  kind: oneOf(SUPPLY_KINDS, "Kind"),
  baseUnit: oneOf(["uL", "mg", "each", "um", "mm2"], "Counted"),
  minimum: typedAmount("Minimum"),
  shelfLife: lifeValue("Unopened, it keeps"),
  shelfLifeUnit: lifeUnit("Unopened, it keeps"),
  openLife: lifeValue("Once opened, it keeps"),
  openLifeUnit: lifeUnit("Once opened, it keeps"),
  hazards: anyOf(
    HAZARD_CLASSES.map(({ hazard }) => hazard),
    "Hazards",
  ),
  keptBack: typedAmount("Never comes out"),
  sheetWidth: typedAmount("Sheet: width"),
  sheetHeight: typedAmount("Sheet: height"),
  rollWidth: typedAmount("Roll: width"),
  density: orEmpty(decimal({ min: 0.1, max: 25, label: "Density", unit: "g/mL" })),
  leadTimeDays: orEmpty(count(365, "Days from order to door", 0)),
  hasColour: checkbox,
  colour: optionalText(7, "Colour").refine((value) => value === "" || /^#[0-9a-f]{6}$/i.test(value), {
    message: "Choose a colour from the field.",
  }),
  note: longText(1000, "Note"),
  // a form without them leaves them as they are
  asksSubstitutes: checkbox,
  substitutes: rows(
    z.object({
      supplyId: chosen("May be used in its place"),
      ratio: orEmpty(
        decimal({ min: RATIO_PPM.least / 1e6, max: RATIO_PPM.most / 1e6, label: "How much stands for 1" }),
      ),
    }),
    { max: 20, blankWhen: "supplyId", what: "substitutes" },
  ),
})

const SPARE_SUBSTITUTES = 1

/** Supplies: all of them, a new one, and one that is changed. */
export function supplyPages(router: Router, studio: Studio): void {
  router.get("/setup/supplies", (_req, res) => {
    const supplies = suppliesList(studio)
    const groups = SUPPLY_KINDS.map((kind) => ({
      kind: KIND_WORDS[kind],
      supplies: supplies.filter((supply) => supply.kind === kind).map(inList),
    })).filter((group) => group.supplies.length > 0)
    res.page("supplies/supplies", {
      title: "Supplies",
      back: { to: "/setup", label: "Set up" },
      lead:
        supplies.length === 0 ? undefined : `${howMany(supplies.length, "supply", "supplies")} in use here.`,
      groups,
    })
  })

  formPage(router, {
    path: "/setup/supplies/new",
    view: "supplies/supply",
    show: (_req, state) => ({ title: "A new supply", ...supplyModel(studio, null, state) }),
    form: SupplyForm,
    save: (input, req, res) => {
      const done = setUp(studio, { req, res }, input, (now) => ({
        answer: made(now, "supply", () => addSupply(studio, toSupply(studio, input))),
        summary: `${input.name} is added to the supplies`,
      }))
      res.saved(`${done.summary}.`, {
        to: `/setup/${input.kind === "blank" ? "blanks" : "supplies"}/${done.answer}`,
        undo: done.actionId,
        undoTo: "/setup/supplies",
      })
    },
  })

  formPage(router, {
    path: "/setup/supplies/:id",
    view: "supplies/supply",
    show: (req, state) => {
      const supply = supplyById(studio, idParam(req))
      return { title: supply.name, ...supplyModel(studio, supply, state) }
    },
    form: SupplyForm,
    save: (input, req, res) => {
      const id = idParam(req)
      const done = setUp(studio, { req, res }, input, (now) => {
        changed(now, "supply", id, () => {
          changeSupply(studio, id, toSupply(studio, input))
          if (input.asksSubstitutes) keepSubstitutes(studio, id, toAllowed(input))
        })
        return { summary: `The supply ${input.name} is changed`, answer: id }
      })
      res.saved(`${done.summary}.`, { to: "/setup/supplies", undo: done.actionId })
    },
  })
}

function toSupply(studio: Studio, input: z.output<typeof SupplyForm>): SupplyInput {
  const densityMgPerMl = input.density === null ? null : Math.round(input.density * 1000)
  const { baseUnit } = input
  const { units } = settingsOf(studio)
  return {
    name: input.name,
    kind: input.kind,
    baseUnit,
    densityMgPerMl,
    shelfLife: readLife(input.shelfLife, input.shelfLifeUnit, "shelfLife"),
    openLife: readLife(input.openLife, input.openLifeUnit, "openLife"),
    leadTimeDays: input.leadTimeDays,
    minimumAmount: amountOrZero(input.minimum, { baseUnit, densityMgPerMl }, units, "minimum"),
    hazards: input.hazards,
    colour: input.hasColour && input.colour !== "" ? input.colour : null,
    note: input.note,
    keptBack: amountOrZero(input.keptBack, { baseUnit, densityMgPerMl }, units, "keptBack"),
    sheet: readSheet(input.sheetWidth, input.sheetHeight, units),
    rollWidthUm: lengthOrZero(input.rollWidth, units, "rollWidth") || null,
  }
}

function toAllowed({ substitutes: given }: z.output<typeof SupplyForm>): Allowed[] {
  return given.map(({ supplyId, ratio }) => ({ supplyId, ratioPpm: Math.round((ratio ?? 1) * 1e6) }))
}

/** Both sides of a sheet, or neither. */
function readSheet(width: string, height: string, units: UnitSystem): SheetSize | null {
  const widthUm = lengthOrZero(width, units, "sheetWidth")
  const heightUm = lengthOrZero(height, units, "sheetHeight")
  if (widthUm === 0 && heightUm === 0) return null
  if (widthUm === 0) throw new Refusal("Write the sheet's width too.", { field: "sheetWidth" })
  if (heightUm === 0) throw new Refusal("Write the sheet's height too.", { field: "sheetHeight" })
  return { widthUm, heightUm }
}

/** What the form shows: the supply as it is, or an empty one. */
function supplyModel(studio: Studio, supply: Supply | null, state: FormState | null) {
  const { units } = settingsOf(studio)
  const hazards = (supply?.hazards ?? []).filter(isHazard)
  const packs = supply === null ? [] : packsOfSupply(studio, supply.id)
  const possible = supply === null ? [] : possibleSubstitutes(studio, supply.id)
  const allowed = supply === null ? [] : (substitutes(studio).get(supply.id) ?? [])
  return {
    possible: possible.map(({ id, name }) => ({ value: id, label: name })),
    substituteCount:
      allowed.length === 0
        ? "nothing else"
        : possible
            .filter(({ id }) => allowed.some((one) => one.supplyId === id))
            .map(({ name }) => name)
            .join(", "),
    substitutes: rowsTyped(state, "substitutes") ?? [
      ...allowed.map(({ supplyId, ratioPpm }) => ({
        supplyId,
        ratio: ratioPpm === 1e6 ? "" : ratioPpm / 1e6,
      })),
      ...Array.from({ length: SPARE_SUBSTITUTES }, () => ({ supplyId: "", ratio: "" })),
    ],
    back: { to: "/setup/supplies", label: "Supplies" },
    id: supply?.id ?? null,
    name: supply?.name ?? "",
    kind: supply?.kind ?? "",
    kinds: asChoices(KIND_WORDS),
    baseUnit: supply?.baseUnit ?? "",
    baseUnitWords: supply === null ? "" : UNIT_WORDS[supply.baseUnit].toLowerCase(),
    baseUnits: asChoices(UNIT_WORDS),
    fixedBy: supply === null ? null : unitIsFixedBy(studio, supply.id),
    minimum: supply === null ? "" : amountText(supply.minimumAmount, supply.baseUnit, units),
    minimumExample: units === "us" ? "16 fl oz, 12 oz or 24" : "500 mL, 340 g or 24",
    shelfLife: lifeFields(supply?.shelfLife ?? null),
    openLife: lifeFields(supply?.openLife ?? null),
    lifeChoices: LIFE_CHOICES,
    hazards: hazardChoices(hazards),
    hazardCount: hazards.length === 0 ? "none ticked" : `${hazards.length} ticked`,
    cautions: cautionsFor(hazards),
    keptBack: supply === null ? "" : amountText(supply.keptBack, supply.baseUnit, units),
    lengthUnit: lengthUnit(units),
    hasSheets: supply === null || supply.baseUnit === "mm2",
    sheetWidth: supply?.sheet ? lengthText(supply.sheet.widthUm, units) : "",
    sheetHeight: supply?.sheet ? lengthText(supply.sheet.heightUm, units) : "",
    rollHint:
      supply === null
        ? "If it is counted by length: then pieces can be cut across it."
        : "Then pieces can be cut across it.",
    hasRoll: supply === null || supply.baseUnit === "um",
    rollWidth: supply?.rollWidthUm ? lengthText(supply.rollWidthUm, units) : "",
    density: supply?.densityMgPerMl == null ? "" : String(supply.densityMgPerMl / 1000),
    leadTimeDays: supply?.leadTimeDays ?? "",
    hasColour: supply?.colour != null,
    colour: supply?.colour ?? "#2b6f8a",
    note: supply?.note ?? "",
    // nothing wrong may hide in a closed fold
    unfolded: state !== null,
    needsProfile: supply?.kind === "blank",
    hasProfile: supply !== null && blanks(studio).some((blank) => blank.supply.id === supply.id),
    packs: packs.map((pack) => ({ id: pack.id, name: pack.name })),
  }
}

function hazardChoices(ticked: readonly Hazard[]) {
  return HAZARD_CLASSES.map(({ hazard, label, statements }) => ({
    hazard,
    label,
    hint: statements.join(" · "),
    ticked: ticked.includes(hazard),
  }))
}

function inList(supply: Supply) {
  const { id, name, colour, baseUnit, minimumAmount } = supply
  return { id, name, colour, baseUnit, minimumAmount, keeps: `keeps: ${lifeWords(supply.shelfLife)}` }
}
