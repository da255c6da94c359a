import { Refusal } from "../domain/refusal.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { putAt } from "../ledger/places.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { containerInAct, nameOf } from "./find.ts"
import type { Asked } from "./marks.ts"

const LONGEST = 40

/** What a shelf's own label says in front of its name, so that it is told from any other code. */
const ON_A_LABEL = "PLACE:"

/** The text of a shelf's label. */
export function placeCode(place: string): string {
  return ON_A_LABEL + place
}

/** The place that a scanned text stands for; null when it is no shelf's label. */
export function placeIn(text: string): string | null {
  const place = text.trim()
  if (!place.toUpperCase().startsWith(ON_A_LABEL)) return null
  const name = place.slice(ON_A_LABEL.length).trim()
  return name === "" || name.length > LONGEST ? null : name
}

/**
 * Puts a container somewhere, or takes it from its place.
 *
 * @param to.place up to 40 characters; "" for no place any more
 * @throws {Refusal} no such container, there already, a name too long
 */
export function moveContainer(
  studio: Studio,
  by: Actor,
  to: { code: string; place: string },
): Done<Asked & { place: string }> {
  return act(studio, "move", by, to, (now) => {
    const container = containerInAct(now, to.code)
    const place = asKnown(studio, placeIn(to.place) ?? to.place.trim())
    if (place.length > LONGEST)
      throw new Refusal(`A place has a short name: at most ${LONGEST} characters.`, { field: "place" })
    const { place: before } = now.file.firstText<{ place: string | null }>(
      "SELECT place FROM container WHERE id = ?",
      [container.id],
    )!
    if ((before ?? "") === place) {
      throw new Refusal(
        place === ""
          ? `${nameOf(container)} stands nowhere in particular.`
          : `${nameOf(container)} is there already.`,
        { field: "place", status: 409 },
      )
    }
    putAt(now, container.id, place)
    return {
      summary:
        place === "" ? `Took ${nameOf(container)} from ${before}` : `Put ${nameOf(container)} on ${place}`,
      answer: { code: container.code, supplyId: container.supply_id, place },
    }
  })
}

/** A place as the studio writes it: small and capital letters are one. */
function asKnown(studio: Studio, place: string): string {
  const known = placesOf(studio).find((one) => one.place.toLowerCase() === place.toLowerCase())
  return known?.place ?? place
}

/** Every place that something stands on or stood on, with how many containers are there now. */
export function placesOf(studio: Studio): { place: string; containers: number }[] {
  return studio.file.allText<{ place: string; containers: number }>(
    `SELECT h.place, (SELECT count(*) FROM container c WHERE c.place = h.place AND c.amount_left > 0) AS containers
     FROM container_change h WHERE h.place <> ''
       AND ${stands("h.action_id")}
     GROUP BY h.place ORDER BY h.place COLLATE NOCASE`,
  )
}

/** Where a container most likely goes: where others of its supply stand, then where things were put last. */
export function likelyPlaces(
  studio: Studio,
  container: { containerId: number; supplyId: number; place: string | null },
  limit: number,
): string[] {
  const rows = studio.file.allText<{ place: string }>(
    `SELECT h.place FROM container_change h JOIN container c ON c.id = h.container_id
     WHERE h.place <> '' AND h.place IS NOT ? AND ${stands("h.action_id")}
     GROUP BY h.place ORDER BY max(c.supply_id = ?) DESC, max(h.id) DESC LIMIT ?`,
    [container.place, container.supplyId, limit],
  )
  return rows.map((row) => row.place)
}

/** What stands on a place, soonest to go off first; empty ones left out. */
export function onPlace(
  studio: Studio,
  place: string,
): { code: string; supply: string; lotNumber: string | null; expiresOn: string | null }[] {
  return studio.file.allText(
    `SELECT c.code, s.name AS supply, l.number AS lotNumber, l.expires_on AS expiresOn
     FROM container c JOIN supply s ON s.id = c.supply_id JOIN lot l ON l.id = c.lot_id
     WHERE c.place = ? COLLATE NOCASE AND c.amount_left > 0 ORDER BY coalesce(l.expires_on, '9999'), s.name, c.id`,
    [place],
  )
}
