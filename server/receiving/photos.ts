import { createHash } from "node:crypto"
import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { onlyThePicture } from "./only-the-picture.ts"

/** After so long a photo that nothing has was left by a form that was never kept. */
const LEFT_HOURS = 24

/**
 * Keeps a photo until a form names it. All but the picture is taken out of it: where and when it was taken, and
 * with what. The same photo again is the same.
 *
 * @returns its number
 * @throws {Refusal} no JPEG, PNG or WebP; damaged; too large
 */
export function keepPhoto(studio: Studio, sent: Uint8Array): { photoId: number } {
  const { type, bytes } = onlyThePicture(sent)
  const hash = createHash("sha256").update(bytes).digest("hex")
  return studio.file.transaction(() => {
    const now = studio.now()
    studio.file.runText(
      `DELETE FROM photo WHERE kept_at < ? AND NOT EXISTS (SELECT 1 FROM lot_photo l WHERE l.photo_id = photo.id)
         AND NOT EXISTS (SELECT 1 FROM making_photo p WHERE p.photo_id = photo.id)`,
      [now.subtract({ hours: LEFT_HOURS }).toString({ smallestUnit: "millisecond" })],
    )
    const known = studio.file.firstText<{ id: number }>("SELECT id FROM photo WHERE hash = ?", [hash])
    const photoId =
      known?.id ??
      studio.file.insert("photo", {
        hash,
        type,
        bytes: Buffer.from(bytes),
        kept_at: now.toString({ smallestUnit: "millisecond" }),
      })
    return { photoId }
  })
}

/** Puts photos to the lots that were read off them, as part of an action. @throws {Refusal} one is not there */
export function keepPhotos(now: Act, lotIds: readonly number[], photoIds: readonly number[]): void {
  for (const photoId of new Set(photoIds)) {
    refuseLostPhoto(now, photoId)
    for (const lotId of new Set(lotIds))
      now.file.insert("lot_photo", { action_id: now.actionId, lot_id: lotId, photo_id: photoId })
  }
}

/** @throws {Refusal} the photo is not there, or not any more */
export function refuseLostPhoto(now: Act, photoId: number): void {
  if (now.file.firstText("SELECT 1 FROM photo WHERE id = ?", [photoId])) return
  throw new Refusal("The photo is not kept any more. Take it again.", { field: "photo" })
}

/** Puts a photo to a lot that is in the book. @throws {Refusal} no such lot or photo */
export function addPhoto(
  studio: Studio,
  by: Actor,
  input: { lotId: number; photoId: number },
): Done<{ lotId: number }> {
  return act(studio, "photo", by, input, (now) => {
    const lot = now.file.firstText<{ number: string | null; supply: string }>(
      "SELECT l.number, s.name AS supply FROM lot l JOIN supply s ON s.id = l.supply_id WHERE l.id = ?",
      [input.lotId],
    )
    if (!lot) throw new Refusal("There is no such lot.", { status: 404 })
    keepPhotos(now, [input.lotId], [input.photoId])
    const number = lot.number === null ? "without a number" : lot.number
    return { summary: `Photo of ${lot.supply}, lot ${number}`, answer: { lotId: input.lotId } }
  })
}

/** The photos of lots, the newest first. */
export function photosOf(studio: Studio, lotIds: readonly number[]): { photoId: number }[] {
  return studio.file.allText<{ photoId: number }>(
    `SELECT l.photo_id AS photoId FROM lot_photo l WHERE l.lot_id IN (SELECT value FROM json_each(?))
       AND ${stands("l.action_id")}
     GROUP BY l.photo_id ORDER BY max(l.action_id) DESC`,
    [JSON.stringify(lotIds)],
  )
}

/** @throws {Refusal} 404: no such photo */
export function photoById(studio: Studio, photoId: number): { type: string; bytes: Buffer } {
  const row = studio.file.firstText<{ type: string; bytes: Buffer }>(
    "SELECT type, bytes FROM photo WHERE id = ?",
    [photoId],
  )
  if (!row) throw new Refusal("There is no such photo.", { status: 404 })
  return row
}
