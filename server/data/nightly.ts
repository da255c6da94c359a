import type { Logger } from "pino"
import { Temporal } from "temporal-polyfill"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import type { House } from "./house.ts"

const LOOK_EVERY_MS = 10 * 60_000
const FROM_HOUR = 3

/**
 * Makes a copy each night at three by the studio's clock, and soon after start where the last night was missed, as
 * on a computer that sleeps. Looks every ten minutes; a copy that fails is logged and tried again.
 *
 * @returns stops it
 */
export function copyEachNight(house: House, logger: Logger): () => void {
  const look = () => {
    if (!isDue(house)) return
    house
      .makeCopy("nightly")
      .catch((error: unknown) => logger.error({ err: error }, "the nightly copy was not made"))
  }
  look()
  const timer = setInterval(look, LOOK_EVERY_MS)
  timer.unref()
  return () => clearInterval(timer)
}

/** Whether a nightly copy is missing: none since the last three o'clock, in a studio where something was done. */
export function isDue(house: House): boolean {
  const { studio } = house
  if (studio.file.firstText("SELECT 1 FROM action LIMIT 1") === undefined) return false
  const last = house.copies().find((copy) => copy.kind === "nightly")
  return last === undefined || Temporal.Instant.compare(last.madeAt, lastThree(studio)) < 0
}

function lastThree(studio: Studio): Temporal.Instant {
  const { timeZone } = settingsOf(studio)
  const today = Temporal.PlainDate.from(todayOf(studio))
  const at = (day: Temporal.PlainDate) =>
    day.toZonedDateTime({ timeZone, plainTime: Temporal.PlainTime.from({ hour: FROM_HOUR }) }).toInstant()
  return Temporal.Instant.compare(at(today), studio.now()) <= 0 ? at(today) : at(today.subtract({ days: 1 }))
}
