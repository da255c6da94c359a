import type { CupState } from "../../db/tables.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { refuseLostPhoto } from "../receiving/service.ts"

/** A picture of a cup, or of a coat that the cup had. */
export interface MakingPhoto {
  photoId: number
  /** the layer it shows; null: of the cup alone */
  layer: string | null
  happenedAt: string
}

/** Puts a photo to coats or to a cup, as part of an action. @throws {Refusal} the photo is not there */
export function addMakingPhotos(
  now: Act,
  photoId: number,
  of: { coatIds: readonly number[] } | { cupId: number },
): void {
  refuseLostPhoto(now, photoId)
  const row = { action_id: now.actionId, photo_id: photoId }
  if ("cupId" in of) now.file.insert("making_photo", { ...row, coat_id: null, cup_id: of.cupId })
  else
    for (const coatId of of.coatIds)
      now.file.insert("making_photo", { ...row, coat_id: coatId, cup_id: null })
}

/** Puts a photo to a cup. @throws {Refusal} no such cup or photo */
export function addCupPhoto(
  studio: Studio,
  by: Actor,
  input: { serial: string; photoId: number },
): Done<{ serial: string }> {
  return act(studio, "photo", by, input, (now) => {
    const cup = now.file.firstText<{ id: number; state: CupState | null }>(
      "SELECT id, state FROM cup WHERE serial = ?",
      [input.serial],
    )
    if (!cup || cup.state === null) throw new Refusal("There is no such cup.", { status: 404 })
    addMakingPhotos(now, input.photoId, { cupId: cup.id })
    return { summary: `Photo of cup ${input.serial}`, answer: { serial: input.serial } }
  })
}

/** The photos of a cup and of the coats on it, in the order they were kept. */
export function photosOfCup(studio: Studio, serial: string): MakingPhoto[] {
  return studio.file.allText<MakingPhoto>(
    `SELECT p.photo_id AS photoId, l.name AS layer, a.happened_at AS happenedAt
     FROM cup u JOIN making_photo p ON p.cup_id = u.id
         OR p.coat_id IN (SELECT coat_id FROM coat_cup WHERE cup_id = u.id)
       JOIN action a ON a.id = p.action_id LEFT JOIN coat c ON c.id = p.coat_id LEFT JOIN layer l ON l.id = c.layer_id
     WHERE u.serial = ? AND ${stands("p.action_id")} AND (c.id IS NULL OR ${stands("c.action_id")})
     GROUP BY p.photo_id, l.id ORDER BY min(p.id)`,
    [serial],
  )
}
