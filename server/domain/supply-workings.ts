import { heightNowUm, type ShelvedOffcut } from "./offcuts.ts"
import type { PieceNeed } from "./pieces.ts"
import type { AmountUse, PieceUse, PlanSupply, SprayUse, Working } from "./plan.ts"
import type { Cut, Piece, Rows } from "./sheets.ts"
import { type Input, input, type Part, type Surface, sharePart, surfaceInput, titleOf } from "./workings.ts"

/** The cups, surface and mixed resin that an amount is for. */
export interface ServedBy {
  cups: number
  surface: Surface
  /** resin in the mix it goes into, where the amount hangs on it */
  mixedUl: number
}

/** Why so much of a supply is taken, for all cups or for one mix. */
export function amountWorking(use: AmountUse, amount: number, for_: ServedBy): Working {
  const { formula, inputs } = amountPart(use, for_)
  const unit = use.supply.baseUnit
  const roundsUp = unit === "each" && inputs.length > 1
  return {
    title: titleOf(use.supply, for_.cups),
    formula: roundsUp ? `${formula}, rounded up to whole pieces` : formula,
    inputs,
    result: { value: amount, unit },
  }
}

function amountPart(use: AmountUse, for_: ServedBy): Part {
  const unit = use.supply.baseUnit
  const share = sharePart(use)
  const cups = input("cups", for_.cups, "cups", "this batch")
  switch (use.how) {
    case "per-cup":
      return {
        formula: `cups × amount a cup${share.formula}`,
        inputs: [cups, own(use, "amount a cup"), ...share.inputs],
      }
    case "per-area":
      return byArea(use, "amount a square metre", cups, for_)
    case "sprinkled":
      return byArea(use, "what stays on a square metre", cups, for_)
    case "per-resin":
      return {
        formula: "resin in the mix × amount a litre",
        inputs: [
          input("resin in the mix", for_.mixedUl, "uL", "worked out"),
          own(use, "amount a litre", `${unit}/L`),
        ],
      }
    case "per-mix":
      return alone(use, "amount a mix")
    case "per-batch":
      return alone(use, "amount a batch")
    case "per-session":
      return alone(use, "amount a session")
  }
}

function own(use: AmountUse, name: string, rate: string = use.supply.baseUnit): Input {
  return input(name, use.amount, rate, "design")
}

function alone(use: AmountUse, name: string): Part {
  return { formula: name, inputs: [own(use, name)] }
}

function byArea(use: AmountUse, name: string, cups: Input, { surface }: ServedBy): Part {
  const area = surfaceInput(surface)
  const share = sharePart(use)
  return {
    formula: `cups × ${area.name} × ${name}${share.formula}`,
    inputs: [cups, area, own(use, name, `${use.supply.baseUnit}/m2`), ...share.inputs],
  }
}

/** Why so much paint leaves the can, by its data sheet. */
export function sprayWorking(use: SprayUse, amount: number, cups: number, surface: Surface): Working {
  const { supply } = use
  const share = sharePart(use)
  const area = surfaceInput(surface)
  const byWeight = supply.baseUnit === "mg"
  return {
    title: titleOf(supply, cups),
    formula: `cups × ${area.name}${share.formula} × dry film of a pass × passes ÷ solids ÷ what lands on the cup${byWeight ? " × density" : ""}`,
    inputs: [
      input("cups", cups, "cups", "this batch"),
      area,
      ...share.inputs,
      input("dry film of a pass", use.dryUm, "um", "design"),
      input("passes", use.passes, "passes", "design"),
      input("solids", use.solidsPpm, "ppm", "design"),
      input("what lands on the cup", use.transferPpm, "ppm", "design"),
      ...(byWeight ? [densityInput(supply)] : []),
    ],
    result: { value: amount, unit: supply.baseUnit },
  }
}

/** Why so much sheet, or such a length off a roll, is taken for the pieces of some cups. */
export function pieceWorking(use: PieceUse, need: PieceNeed, amount: number, cups: number): Working {
  const { formula, inputs } = piecePart(use, need)
  return {
    title: titleOf(use.supply, cups),
    formula,
    inputs: [input("cups", cups, "cups", "this batch"), ...inputs],
    result: { value: amount, unit: use.supply.baseUnit },
  }
}

/** Why so much of an offcut is taken: the strip that some pieces are cut from, over its full width. */
export function offcutWorking(use: PieceUse, piece: Piece, cut: Cut, offcut: ShelvedOffcut): Working {
  const { supply } = use
  const all = cut.offcut === null
  return {
    title: `${supply.name} from an offcut, ${cut.pieces === 1 ? "1 piece" : `${cut.pieces} pieces`}`,
    formula: all
      ? "offcut width × offcut height: no other piece fits on what is left, so it is used up"
      : "offcut width × length off the offcut, for pieces of width × height with margin and gap",
    inputs: [
      input("pieces", cut.pieces, "pieces", "this batch"),
      input("width", piece.pieceWidthUm, "um", "design"),
      input("height", piece.pieceHeightUm, "um", "design"),
      input("offcut width", offcut.widthUm, "um", "shelf"),
      all
        ? input("offcut height", heightNowUm(offcut), "um", "shelf")
        : input("length off the offcut", cut.lastStripUm, "um", "worked out"),
      ...spacing(use),
    ],
    result: { value: cut.takenMm2, unit: supply.baseUnit },
  }
}

function piecePart(use: PieceUse, need: PieceNeed): Part {
  const size = sizePart(use, need)
  switch (need.from) {
    case "area":
      return {
        formula: `cups${size.spoiled} × width × height${size.note}`,
        inputs: size.inputs,
      }
    case "sheets": {
      const { cut } = need
      const { widthUm, heightUm } = use.supply.sheet!
      const lastUm = cut.lastRows.length === 0 ? 0 : cut.offcut ? cut.lastStripUm : heightUm
      return {
        formula: `sheet width × (whole sheets × sheet height + length off the last sheet), for cups${size.spoiled} pieces of width × height, pieces a sheet with margin and gap${size.note}`,
        inputs: [
          input("sheet width", widthUm, "um", "supply"),
          input("whole sheets", cut.wholeSheets, "sheets", "worked out"),
          input("sheet height", heightUm, "um", "supply"),
          input("length off the last sheet", lastUm, "um", "worked out"),
          ...size.inputs,
          input("pieces a sheet", cut.perSheet, "pieces", "worked out"),
          ...spacing(use),
        ],
      }
    }
    case "roll": {
      const rows = rowsPart(need.rows)
      return {
        formula: `margin + ${rows.formula}, for cups${size.spoiled} pieces of width × height across the roll width${size.note}`,
        inputs: [
          ...spacing(use),
          ...rows.inputs,
          ...size.inputs,
          input("roll width", use.supply.rollWidthUm!, "um", "supply"),
        ],
      }
    }
  }
}

/** The piece itself: its size, and how many more are cut because some are spoiled. */
function sizePart(use: PieceUse, { piece }: PieceNeed): { spoiled: string; note: string; inputs: Input[] } {
  const { cut, reprintPpm } = use
  const from = cut.shape === "wrap" ? "worked out" : "design"
  return {
    spoiled: reprintPpm === 0 ? "" : " × (1 + spoiled)",
    note: [
      cut.shape === "wrap" ? ", once around the band with its overlap" : "",
      reprintPpm === 0 ? "" : ", pieces to the nearest whole one",
    ].join(""),
    inputs: [
      ...(reprintPpm === 0 ? [] : [input("spoiled", reprintPpm, "ppm", "design")]),
      input("width", piece.pieceWidthUm, "um", from),
      input("height", piece.pieceHeightUm, "um", from),
      ...(cut.shape === "wrap" ? [input("overlap", cut.overlapUm, "um", "design")] : []),
    ],
  }
}

function spacing({ marginUm, gapUm }: PieceUse): Input[] {
  return [input("margin", marginUm, "um", "design"), input("gap", gapUm, "um", "design")]
}

/** Rows across a roll; two kinds where some lie turned. */
function rowsPart(rows: readonly Rows[]): Part {
  const parts = rows.map(({ turned, rows: count, rowUm }): Part => {
    const kind = turned ? "turned " : ""
    return {
      formula: `${kind}rows × (${kind}row height + gap)`,
      inputs: [
        input(`${kind}rows`, count, "rows", "worked out"),
        input(`${kind}row height`, rowUm, "um", "worked out"),
      ],
    }
  })
  return {
    formula: parts.map((part) => part.formula).join(" + "),
    inputs: parts.flatMap((part) => part.inputs),
  }
}

function densityInput(supply: PlanSupply): Input {
  return input("density", supply.densityMgPerMl ?? 0, "mg/mL", "supply")
}
