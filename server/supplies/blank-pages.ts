import type { Router } from "express"
import { z } from "zod"
import type { CoatedProfile, Ring } from "../domain/profile.ts"
import { coatedAreaMm2, heightAtShareUm, heightUm } from "../domain/profile.ts"
import { Refusal } from "../domain/refusal.ts"
import { formatAmount, toUnit, type UnitSystem } from "../domain/units.ts"
import { changed, made } from "../ledger/row-change.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { checkbox, count, idempotencyKey, longText, orEmpty, rows, text } from "../web/fields.ts"
import { type FormState, formPage, idParam, readQuery, rowsTyped } from "../web/forms.ts"
import {
  amountOrZero,
  filledLines,
  length,
  lengthOrZero,
  lengthText,
  lengthUnit,
  typedAmount,
  typedText,
} from "./entry.ts"
import { profilePicture } from "./profile-picture.ts"
import { addBlank, type BlankInput, blanks, setProfile, suppliesList, supplyById } from "./service.ts"
import { setUp } from "./set-up.ts"

const MOST_RINGS = 30
const SPARE_RINGS = 2

const profileFields = {
  key: idempotencyKey,
  baseWidth: typedAmount("Width at the base"),
  rings: rows(z.object({ height: typedAmount("Height above the base"), width: typedAmount("Width there") }), {
    max: MOST_RINGS,
    blankWhen: "height",
    what: "rings",
  }),
  bareLip: typedAmount("Bare at the lip"),
  bareBase: typedAmount("Bare at the base"),
  coatsBase: checkbox,
}
const ProfileForm = z.object(profileFields)
const NewBlankForm = z.object({
  ...profileFields,
  name: text(80, "Name"),
  minimum: typedAmount("Minimum"),
  leadTimeDays: orEmpty(count(365, "Days from order to door", 0)),
  note: longText(1000, "Note"),
})
/** The editor of designs, when the blank is added from there; anything else is not gone back to. */
const ComesBack = z.object({
  returnTo: z
    .string()
    .regex(/^\/designs\/(?:new|\d{1,15}\/edit)(?:\?[\w=&-]{0,200})?$/)
    .nullable()
    .catch(null),
})

/** Blanks: all of them, a new one with its profile, and the profile of one. */
export function blankPages(router: Router, studio: Studio): void {
  router.get("/setup/blanks", (_req, res) => {
    const { units } = settingsOf(studio)
    const known = new Map(blanks(studio).map((blank) => [blank.supply.id, blank]))
    res.page("supplies/blanks", {
      title: "Blanks",
      back: { to: "/setup", label: "Set up" },
      lead: "Uncoated cups with their shape: how much coating a cup takes follows from it.",
      blanks: suppliesList(studio)
        .filter((supply) => supply.kind === "blank")
        .map((supply) => {
          const blank = known.get(supply.id)
          return {
            id: supply.id,
            name: supply.name,
            about: blank
              ? `${sizeWords(blank, units)} · coats ${areaWords(blank, units)}`
              : "its shape is not known yet",
          }
        }),
    })
  })

  formPage(router, {
    path: "/setup/blanks/new",
    view: "supplies/blank",
    show: (_req, state) => ({
      title: "A new blank",
      isNew: true,
      supplyId: null,
      ...profileModel(null, settingsOf(studio).units, state),
    }),
    form: NewBlankForm,
    save: (input, req, res) => {
      const { returnTo } = readQuery(ComesBack, req)
      shapeMayBeMissing(studio, input.name)
      const done = setUp(studio, { req, res }, input, (now) => ({
        answer: made(now, "supply", () => addBlank(studio, toBlank(studio, input, req.body))),
        summary: `${input.name} is added to the blanks`,
      }))
      if (returnTo !== null) return res.saved(`${done.summary} and chosen here.`, backWith(returnTo, done))
      res.saved(`${done.summary}. Look whether its picture is like the cup.`, {
        to: `/setup/blanks/${done.answer}`,
        undo: done.actionId,
        undoTo: "/setup/blanks",
      })
    },
  })

  formPage(router, {
    path: "/setup/blanks/:id",
    view: "supplies/blank",
    show: (req, state) => {
      const supply = supplyById(studio, idParam(req))
      if (supply.kind !== "blank") throw new Refusal("There is no such blank.", { status: 404 })
      const blank = blanks(studio).find((one) => one.supply.id === supply.id) ?? null
      const { units } = settingsOf(studio)
      return {
        title: supply.name,
        lead: blank === null ? "Its shape is not known yet." : undefined,
        isNew: false,
        supplyId: supply.id,
        ...profileModel(blank, units, state),
      }
    },
    form: ProfileForm,
    save: (input, req, res) => {
      const id = idParam(req)
      const done = setUp(studio, { req, res }, input, (now) => {
        const profile = toProfile(input, req.body, settingsOf(studio).units)
        changed(now, "supply", id, () => setProfile(studio, id, profile))
        return { summary: `The profile of ${supplyById(studio, id).name} is kept`, answer: id }
      })
      const { returnTo } = readQuery(ComesBack, req)
      if (returnTo !== null)
        return res.saved(`${done.summary}, and it is chosen here.`, backWith(returnTo, done))
      res.saved(`${done.summary}. Coats already made keep their area.`, {
        to: `/setup/blanks/${id}`,
        undo: done.actionId,
      })
    },
  })
}

/** Back in the editor of designs, with the blank chosen. */
function backWith(returnTo: string, { answer, actionId }: { answer: number; actionId: number }) {
  const mark = returnTo.includes("?") ? "&" : "?"
  return { to: `${returnTo}${mark}blank=${answer}`, undo: actionId, undoTo: returnTo }
}

/** @throws {Refusal} a blank of that name is there and only its shape is not: another name would be the wrong way on */
function shapeMayBeMissing(studio: Studio, name: string): void {
  const shaped = new Set(blanks(studio).map((blank) => blank.supply.id))
  const waiting = suppliesList(studio).find(
    (supply) =>
      supply.kind === "blank" && !shaped.has(supply.id) && supply.name.toLowerCase() === name.toLowerCase(),
  )
  if (waiting)
    throw new Refusal(
      `${waiting.name} is there already, only its shape is not: tap it under Blanks and put it in.`,
      {
        field: "name",
      },
    )
}

function toBlank(
  studio: Studio,
  input: z.output<typeof NewBlankForm>,
  body: { rings?: unknown },
): BlankInput {
  const { units } = settingsOf(studio)
  const each = { baseUnit: "each", densityMgPerMl: null } as const
  return {
    supply: {
      name: input.name,
      densityMgPerMl: null,
      shelfLife: { unit: "never" },
      openLife: { unit: "never" },
      leadTimeDays: input.leadTimeDays,
      minimumAmount: amountOrZero(input.minimum, each, units, "minimum"),
      hazards: [],
      colour: null,
      note: input.note,
    },
    ...toProfile(input, body, units),
  }
}

function toProfile(
  input: z.output<typeof ProfileForm>,
  body: { rings?: unknown },
  units: UnitSystem,
): CoatedProfile {
  const lines = filledLines(body.rings, "height")
  const rings: Ring[] = input.rings.map((ring, index) => ({
    heightUm: length(ring.height, units, `rings[${lines[index]}][height]`),
    diameterUm: length(ring.width, units, `rings[${lines[index]}][width]`),
  }))
  return {
    rings: [{ heightUm: 0, diameterUm: length(input.baseWidth, units, "baseWidth") }, ...rings],
    bareLipUm: lengthOrZero(input.bareLip, units, "bareLip"),
    bareBaseUm: lengthOrZero(input.bareBase, units, "bareBase"),
    coatsBase: input.coatsBase,
  }
}

function profileModel(blank: CoatedProfile | null, units: UnitSystem, state: FormState | null) {
  const saved = blank?.rings.slice(1).map((ring) => ({
    height: lengthText(ring.heightUm, units),
    width: lengthText(ring.diameterUm, units),
  }))
  const typed = rowsTyped(state, "rings")?.map((row) => ({
    height: typedText(row, "height"),
    width: typedText(row, "width"),
  }))
  const rings = typed ?? [...(saved ?? [{ height: "", width: "" }]), ...spareRings()]
  return {
    back: { to: "/setup/blanks", label: "Blanks" },
    unit: lengthUnit(units),
    baseWidth: blank ? lengthText(blank.rings[0]?.diameterUm ?? 0, units) : "",
    rings: rings
      .slice(0, MOST_RINGS)
      .map((ring, index) => ({ ...ring, index, nth: index + 2, spare: index > 0 })),
    bareLip: blank ? lengthText(blank.bareLipUm, units) : "",
    bareBase: blank ? lengthText(blank.bareBaseUm, units) : "",
    coatsBase: blank?.coatsBase ?? false,
    unfolded: state !== null,
    picture: blank ? profilePicture(blank) : null,
    area: blank ? areaWords(blank, units) : "",
    sharesBelow: blank
      ? [1 / 3, 1 / 2, 2 / 3].map((share) => lengthWords(heightAtShareUm(blank, share), units)).join(", ")
      : "",
    size: blank ? sizeWords(blank, units) : "",
    bands: blank
      ? `${lengthWords(blank.bareLipUm, units)} at the lip, ${blank.coatsBase ? "nothing at the base: the underside is coated too" : `${lengthWords(blank.bareBaseUm, units)} at the base`}`
      : "",
  }
}

function spareRings() {
  return Array.from({ length: SPARE_RINGS }, () => ({ height: "", width: "" }))
}

function areaWords(blank: CoatedProfile, units: UnitSystem): string {
  return formatAmount(Math.round(coatedAreaMm2(blank)), "mm2", units)
}

/** "240 mm tall, 70 to 76 mm wide". */
function sizeWords(blank: CoatedProfile, units: UnitSystem): string {
  const widths = blank.rings.map((ring) => ring.diameterUm)
  const [least, most] = [Math.min(...widths), Math.max(...widths)]
  const from = least === most ? "" : `${lengthWords(least, units, false)} to `
  return `${lengthWords(heightUm(blank.rings), units)} tall, ${from}${lengthWords(most, units)} wide`
}

/** To a tenth of a millimetre or a hundredth of an inch. */
function lengthWords(um: number, units: UnitSystem, withUnit = true): string {
  const unit = lengthUnit(units)
  const value = Number(toUnit(um, unit).toFixed(units === "us" ? 2 : 1))
  return withUnit ? `${value} ${unit}` : String(value)
}
