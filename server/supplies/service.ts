/** The catalogue: what a studio buys and works with. Other rooms import from here alone. */
export { addBlank, type BlankInput, blankOf, blanks, changeBlank, setProfile } from "./blanks.ts"
export { type CheckedCode, checkCode, keptCode, printedCode } from "./codes.ts"
export { lengthText, lengthUnit } from "./entry.ts"
export {
  addMaker,
  addSeller,
  changeMaker,
  changeSeller,
  type Maker,
  makers,
  rewriteSeller,
  type Seller,
  type SellerInput,
  sellers,
  writeMaker,
  writeSeller,
} from "./makers-sellers.ts"
export { addNewThing, type NewThing } from "./new-thing.ts"
export {
  addCodeToPack,
  addPack,
  changePack,
  type PackContent,
  type PackInfo,
  type PackInput,
  packById,
  packs,
  packsByCode,
  packsInCode,
  packsOfSupply,
  rewritePack,
  setOffer,
  writePack,
} from "./packs.ts"
export { type ProfilePicture, profilePicture } from "./profile-picture.ts"
export { keepResinSubstitutes, resinSubstitutes } from "./resin-substitutes.ts"
export {
  addResinSystem,
  changeResinSystem,
  type ResinSystemInput,
  resinSystemById,
  resinSystems,
} from "./resin-systems.ts"
export { changeSettings, currencies, knownCurrency, type SettingsInput, timeZones } from "./settings.ts"
export { type Allowed, keepSubstitutes, substitutes } from "./substitutes.ts"
export {
  addSupply,
  changeSupply,
  checkFigures,
  planSupplies,
  planSupply,
  rewriteSupply,
  type Supply,
  type SupplyInput,
  setDensity,
  suppliesList,
  supplyById,
  unitIsFixedBy,
  writeSupply,
} from "./supplies.ts"
export { KIND_WORDS, lifeWords, UNIT_WORDS } from "./words.ts"
