import type { Sighting } from "./codes.ts"

/** What the page asks the reader's thread: a picture, given away. */
export interface Asked {
  id: number
  picture: ImageBitmap
  from: "frame" | "photo"
}

/** What it tells; `forGood` when it cannot read anything any more. */
export type Told =
  | { id: number; scans: Sighting[]; ms: number }
  | { id: number; failed: string; forGood: boolean }
