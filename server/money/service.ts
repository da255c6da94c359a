/** What things cost and bring, worked out from the book: the only file of this room that others import. */
export { changesOf } from "./changes.ts"
export { finishedCups, marginOf } from "./cups.ts"
export { COLUMNS, type Column, materials, rounded } from "./materials.ts"
export { type SupplyValue, shelfValue } from "./shelf-value.ts"
export { losses } from "./waste.ts"
