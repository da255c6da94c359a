import type { Response } from "express"

/** Who acts: the device that asks, and the key of the form it sends. */
export function by(res: Response, key: string): { device: string; key: string } {
  return { device: deviceOf(res), key }
}

/** Who asks, for the history: a phone by the name it was let in with, else the computer Lotcup runs on. */
export function deviceOf(res: Response): string {
  return typeof res.locals.device === "string" ? res.locals.device : "this computer"
}
