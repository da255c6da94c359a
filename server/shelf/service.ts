/** What stands on the shelf, and what is done to it: the only file of this room that others import. */

export {
  type CountBasis,
  countable,
  countContainer,
  decant,
  type Found,
  topUp,
  type WriteOffKind,
  writeOff,
} from "./amounts.ts"
export { type ContainerPage, containerByCode, type UseByReason } from "./container.ts"
export { LEVELS } from "./levels.ts"
export { holdBoth, type LotOfPair, pairOfLot } from "./lot-pairs.ts"
export { lowCounter } from "./low-count.ts"
export { type Asked, bench, hold, holdLot, openContainer, release, releaseLot, unbench } from "./marks.ts"
export { type OffcutIn, offcutIn, saySize, shelveOffcut } from "./offcuts.ts"
export {
  type LowSupply,
  lowSupplies,
  type Shelf,
  type ShelfContainer,
  type ShelfFilter,
  type ShelfLot,
  type ShelfShow,
  type ShelfSupply,
  shelf,
} from "./on-shelf.ts"
export { moveContainer, onPlace, placeCode, placeIn, placesOf } from "./places.ts"
export { countFields, readCount } from "./read-count.ts"
export { WASTE_REASONS } from "./reasons.ts"
export { MOST_THROWN_OUT, throwOut } from "./throw-out.ts"
export { HELD, type HeldRow, heldOf } from "./vessel.ts"
export { keepFullWeight, type Weighed, weighContainer } from "./weigh.ts"
export { KINDS } from "./words.ts"
