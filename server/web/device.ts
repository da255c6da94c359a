import type { Response } from "express"

/** Who asks, for the history: a phone by the name it was let in with, else the computer Lotcup runs on. */
export function deviceOf(res: Response): string {
  return typeof res.locals.device === "string" ? res.locals.device : "this computer"
}
