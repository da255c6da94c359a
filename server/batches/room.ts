import type { IsoDate } from "../domain/dates.ts"
import { type Room, readHumidity, readTemperature, temperatureFigure } from "../domain/room.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { optionalText, orRefuse } from "../web/fields.ts"
import type { Pass } from "./take.ts"

/** The fields that the room is asked for with. */
export const roomFields = {
  roomTemperature: optionalText(20, "The room's temperature"),
  roomHumidity: optionalText(20, "Humidity"),
}

/** A day's coats are among the last so many that were written down. */
const LOOKED_AT = 500

/** The room as it was last said with a coat of that day; null: not said yet. */
export function roomOn({ file }: Studio, day: IsoDate): Room | null {
  return (
    file.firstText<Room>(
      `SELECT c.room_celsius_tenths AS celsiusTenths, c.room_humidity_percent AS humidityPercent
       FROM (SELECT * FROM coat ORDER BY id DESC LIMIT ${LOOKED_AT}) c JOIN action a ON a.id = c.action_id
       WHERE a.happened_on = ? AND (c.room_celsius_tenths IS NOT NULL OR c.room_humidity_percent IS NOT NULL)
         AND ${stands("a.id")}
       ORDER BY a.happened_at DESC, c.id DESC LIMIT 1`,
      [day],
    ) ?? null
  )
}

/** The room as a form says it; null where both were left empty. @throws {Refusal} beside the field */
export function readRoom(
  studio: Studio,
  form: { roomTemperature: string; roomHumidity: string },
): Room | null {
  const { units } = settingsOf(studio)
  const celsiusTenths = orRefuse(readTemperature(form.roomTemperature, units), "roomTemperature").value
  const humidityPercent = orRefuse(readHumidity(form.roomHumidity), "roomHumidity").value
  return celsiusTenths === null && humidityPercent === null ? null : { celsiusTenths, humidityPercent }
}

/** What stands in the fields to begin with: as it was last said today. */
export function roomProposed(studio: Studio) {
  const { units } = settingsOf(studio)
  const room = roomOn(studio, todayOf(studio))
  return {
    temperature: room?.celsiusTenths == null ? "" : temperatureFigure(room.celsiusTenths, units),
    humidity: room?.humidityPercent == null ? "" : String(room.humidityPercent),
    degrees: units === "us" ? "°F" : "°C",
  }
}

/** Passes in one room. */
export function inRoom(passes: readonly Pass[], room: Room | null): Pass[] {
  return passes.map((pass) => ({ ...pass, room }))
}
