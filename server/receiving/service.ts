/** Taking things in: deliveries and their lines, and what was on the shelf on the first day. */
export { type ExpectedLine, expectedIn } from "./awaited.ts"
export { receiveAgain } from "./before.ts"
export {
  closeDelivery,
  type Delivery,
  type DeliveryLine,
  deliveryLines,
  type Extras,
  openDelivery,
  reopenDelivery,
  startDelivery,
} from "./deliveries.ts"
export type { LabelledLot } from "./lots.ts"
export { type OpeningInput, putOnShelf, receiveOpening, refuseImpossible } from "./opening.ts"
export { keepPhoto, photosOf, refuseLostPhoto } from "./photos.ts"
export { noteDamaged } from "./problems.ts"
export { type Received, type ReceiveInput, receive } from "./receive.ts"
