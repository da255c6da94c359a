import { cutOffcuts, type ShelvedOffcut } from "./offcuts.ts"
import { pieceNeed, piecesFor } from "./pieces.ts"
import type { AmountUse, Blank, Draw, PieceUse, PlannedMix, SprayUse, SupplyUse } from "./plan.ts"
import type { Band } from "./profile.ts"
import { sprayedAmount } from "./sprays.ts"
import { inPlace } from "./substitutes.ts"
import { amountWorking, offcutWorking, pieceWorking, type ServedBy, sprayWorking } from "./supply-workings.ts"
import type { Surface } from "./workings.ts"

/** What a use is for. */
export interface DrawnFor {
  blank: Blank
  /** the layer's own */
  band: Band | null
  surface: Surface
  cups: number
  /** of the whole layer */
  mixes: readonly PlannedMix[]
  again: boolean
  offcuts: readonly ShelvedOffcut[]
}

/**
 * What a use that is no mixed resin takes: one amount for all cups, or one for each mix it goes into.
 *
 * @throws {Refusal} see `pieceNeed`, `sprayedAmount`
 */
export function drawsOfSupply(use: SupplyUse, for_: DrawnFor): Draw[] {
  return inPlace(drawsOf(use, for_), use)
}

function drawsOf(use: SupplyUse, for_: DrawnFor): Draw[] {
  switch (use.how) {
    case "piece":
      return drawsOfPieces(use, for_)
    case "spray-film":
      return [drawOfSpray(use, for_)]
    default:
      return drawsOfAmount(use, for_)
  }
}

function drawsOfAmount(use: AmountUse, { surface, cups, mixes, again }: DrawnFor): Draw[] {
  const share = use.sharePpm / 1e6
  const forAll = { cups, surface, mixedUl: 0 }
  switch (use.how) {
    case "per-cup":
      return [drawOf(use, cups * use.amount * share, null, forAll)]
    case "per-area":
    case "sprinkled":
      return [drawOf(use, cups * (surface.mm2 / 1e6) * use.amount * share, null, forAll)]
    case "per-session":
      return [drawOf(use, use.amount, null, forAll)]
    case "per-batch":
      return again ? [] : [drawOf(use, use.amount, null, forAll)]
    case "per-mix":
      return mixes.map((mix, nth) => drawOf(use, use.amount, nth, { ...mix, surface }))
    case "per-resin":
      return mixes.map((mix, nth) => drawOf(use, (mix.mixedUl / 1e6) * use.amount, nth, { ...mix, surface }))
  }
}

function drawOf(use: AmountUse, exact: number, mix: number | null, servedBy: ServedBy): Draw {
  const amount = whole(exact, use)
  return { supplyId: use.supply.id, amount, mix, working: amountWorking(use, amount, servedBy) }
}

function drawOfSpray(use: SprayUse, { surface, cups }: DrawnFor): Draw {
  const amount = whole(cups * sprayedAmount(use, surface.mm2, use.supply), use)
  return { supplyId: use.supply.id, amount, mix: null, working: sprayWorking(use, amount, cups, surface) }
}

/** From offcuts as far as pieces fit on them, the rest from whole sheets or the roll. */
function drawsOfPieces(use: PieceUse, drawnFor: DrawnFor): Draw[] {
  const { blank, band, cups, offcuts } = drawnFor
  const mine = offcuts.filter(({ supplyId }) => supplyId === use.supply.id)
  if (mine.length === 0 || use.supply.sheet === null) return [drawOfPieces(use, drawnFor)]
  const { piece, pieces } = piecesFor(use, blank, band, cups)
  const { cuts, left } = cutOffcuts(piece, pieces, mine)
  const draws: Draw[] = cuts.map(({ containerId, cut }) => ({
    supplyId: use.supply.id,
    amount: cut.takenMm2,
    mix: null,
    working: offcutWorking(use, piece, cut, mine.find((one) => one.containerId === containerId)!),
    from: containerId,
  }))
  // spoiled pieces are counted in what is left
  return left === 0 ? draws : [...draws, drawOfPieces({ ...use, reprintPpm: 0 }, { ...drawnFor, cups: left })]
}

function drawOfPieces(use: PieceUse, { blank, band, cups }: DrawnFor): Draw {
  const need = pieceNeed(use, blank, band, cups)
  const amount = Math.round(need.amount)
  return {
    supplyId: use.supply.id,
    amount,
    mix: null,
    working: pieceWorking(use, need, amount, cups),
    ...(need.from === "sheets" && { offcut: need.cut.offcut }),
  }
}

/** To the nearest base unit; pieces up, since half a glove is a glove. A billionth is the computer's error. */
function whole(exact: number, { supply }: SupplyUse): number {
  return supply.baseUnit === "each" ? Math.ceil(exact * (1 - 1e-9)) : Math.round(exact)
}
