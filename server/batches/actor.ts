import type { Response } from "express"
import type { Actor } from "../ledger/act.ts"
import { deviceOf } from "../web/device.ts"

/** Who sent a form, and when what it tells happened, if not now. */
export function actorOf(res: Response, form: { key: string; happenedAt?: string | null }): Actor {
  return { device: deviceOf(res), key: form.key, happenedAt: form.happenedAt ?? undefined }
}
