import { createHmac, randomBytes, timingSafeEqual } from "node:crypto"
import { z } from "zod"

/** What is said once after something was saved, and the action its Undo button takes back. */
export interface Notice {
  sentence: string
  /** further sentences: what is now low */
  also: string[]
  undo: number | null
  /** the page Undo leads to, if not the one it stands on */
  undoTo: string | null
}

const Kept = z.object({
  sentence: z.string().max(500),
  also: z.array(z.string().max(200)).max(6),
  undo: z.number().int().positive().nullable(),
  undoTo: z.string().max(500).nullable(),
})

/**
 * Carries a notice over the redirect in a short-lived cookie. It is signed with a secret of this process:
 * cookies know no ports, so any program on this computer could set one and put words (and an Undo) into ours.
 */
export class NoticeCarrier {
  readonly #secret = randomBytes(32)

  /** The cookie's value, under 4 kB; longer notices are cut. */
  pack(notice: Notice): string {
    const cut: Notice = {
      sentence: notice.sentence.slice(0, 400),
      also: notice.also.slice(0, 6).map((sentence) => sentence.slice(0, 150)),
      undo: notice.undo,
      undoTo: notice.undoTo,
    }
    // three bytes of UTF-8 for each character at worst, four thirds for base64
    while (JSON.stringify(cut).length > 900 && cut.also.length > 0) cut.also.pop()
    const body = Buffer.from(JSON.stringify(cut)).toString("base64url")
    return `${body}.${this.#sign(body)}`
  }

  /** The notice in a cookie's value; null for anything this process did not write. */
  unpack(value: string | undefined): Notice | null {
    const [body = "", signature = ""] = (value ?? "").split(".")
    const ours = Buffer.from(this.#sign(body))
    const theirs = Buffer.from(signature)
    if (ours.length !== theirs.length || !timingSafeEqual(ours, theirs)) return null
    const kept = Kept.safeParse(JSON.parse(Buffer.from(body, "base64url").toString()))
    return kept.success ? kept.data : null
  }

  #sign(body: string): string {
    return createHmac("sha256", this.#secret).update(body).digest("base64url")
  }
}

/** One cookie of a Cookie header. */
export function readCookie(header: string | undefined, name: string): string | undefined {
  for (const part of (header ?? "").split(";")) {
    const at = part.indexOf("=")
    if (at > 0 && part.slice(0, at).trim() === name) return part.slice(at + 1).trim()
  }
  return undefined
}
