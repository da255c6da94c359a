/** Taking things in: deliveries and their lines, and what was on the shelf on the first day. */
export {
  closeDelivery,
  type Delivery,
  type DeliveryLine,
  deliveryLines,
  openDelivery,
  reopenDelivery,
  startDelivery,
} from "./deliveries.ts"
export type { LabelledLot } from "./lots.ts"
export { type OpeningInput, receiveOpening } from "./opening.ts"
export { type Received, type ReceiveInput, receive } from "./receive.ts"
