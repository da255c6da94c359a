import { Temporal } from "temporal-polyfill"
import { openStudioFile } from "../../db/migrate.ts"
import type { Actor } from "../../server/ledger/act.ts"
import { FIRST_SETTINGS, keepSettings, type Studio, type StudioSettings } from "../../server/ledger/studio.ts"

/** A studio for a test: an empty file in memory and a clock that stands until it is set. */
export interface TestStudio extends Studio {
  /** Sets the clock to an ISO instant, or to noon of a date where the studio is. */
  setNow(when: string): void
}

/** "Today" in tests unless one says otherwise: a Tuesday. */
export const TODAY = "2026-12-01"

export function testStudio(settings: Partial<StudioSettings> = {}, path = ":memory:"): TestStudio {
  const timeZone = settings.timeZone ?? "America/Chicago"
  let now = at(TODAY, timeZone)
  const studio: TestStudio = {
    file: openStudioFile(path),
    now: () => now,
    setNow: (when) => {
      now = at(when, timeZone)
    },
  }
  keepSettings(studio, { ...FIRST_SETTINGS, name: "Test studio", ...settings, timeZone })
  return studio
}

function at(when: string, timeZone: string): Temporal.Instant {
  return when.includes("T")
    ? Temporal.Instant.from(when)
    : Temporal.PlainDate.from(when).toZonedDateTime({ timeZone, plainTime: "12:00" }).toInstant()
}

let keys = 0

/** Somebody at the bench, with a fresh key each time. */
export function someone(more: Partial<Actor> = {}): Actor {
  keys += 1
  return { device: "test bench", key: `test-${keys}`, ...more }
}
