export { cupTraceCsv, lotTraceCsv, sideBySideCsv } from "./csv.ts"
export { type CoatTrace, type CupTrace, type LotShare, traceCup, type UseTrace } from "./cup.ts"
export { type HeldLot, heldLotsOn, heldWords } from "./held-lots.ts"
export { type LotTrace, recentLots, type TracedContainer, type TracedCup, traceLot } from "./lot.ts"
export { type ResinIn, resinsIn } from "./resins-in.ts"
export { type SupplyBeside, sideBySide, supplySideBySide } from "./side-by-side.ts"
export {
  type BuyerToTell,
  balanceOf,
  buyersOf,
  complain,
  complaintsOf,
  tellBuyer,
  whereNow,
} from "./suspect.ts"
