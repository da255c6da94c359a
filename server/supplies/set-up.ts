import type { Request, Response } from "express"
import { type Act, act, type Done, type Written } from "../ledger/act.ts"
import type { Studio } from "../ledger/studio.ts"
import { by } from "../web/device.ts"

/**
 * Carries out a form of Set up as one action: once however often it is sent, told in the history, undone there.
 *
 * @param asked the form as it was typed, with its key
 * @param work writes through `made` and `changed`; its answer is the id of what it was about
 */
export function setUp(
  studio: Studio,
  { req, res }: { req: Request; res: Response },
  { key, ...asked }: { key: string },
  work: (now: Act) => Written<number>,
): Done<number> {
  return act(studio, "set up", by(res, key), { at: req.originalUrl, ...asked }, work)
}
