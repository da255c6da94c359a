import { Refusal } from "../domain/refusal.ts"
import { keepSettings, type Studio, type StudioSettings, settingsOf } from "../ledger/studio.ts"

/** What a person may set; that a file is the demo stays as it is. */
export type SettingsInput = Omit<StudioSettings, "isDemo">

/**
 * Keeps how the studio measures, works and counts.
 *
 * @throws {Refusal} a time zone or currency that does not exist
 */
export function changeSettings(studio: Studio, settings: SettingsInput): void {
  if (!isTimeZone(settings.timeZone)) {
    throw new Refusal("That time zone is not known: choose one from the list.", { field: "timeZone" })
  }
  knownCurrency(settings.currency)
  keepSettings(studio, { ...settings, isDemo: settingsOf(studio).isDemo })
}

/** Three-letter codes (ISO 4217), as this computer knows them. */
export function currencies(): string[] {
  return Intl.supportedValuesOf("currency")
}

/** @returns the code. @throws {Refusal} a currency that does not exist */
export function knownCurrency(code: string): string {
  if (currencies().includes(code)) return code
  throw new Refusal("That currency is not known: choose one from the list.", { field: "currency" })
}

/** Time zones by name, as this computer knows them. */
export function timeZones(): string[] {
  return ["UTC", ...Intl.supportedValuesOf("timeZone").filter((zone) => zone !== "UTC")]
}

/** Old names of a zone are good too ("US/Pacific"). */
function isTimeZone(name: string): boolean {
  if (!/^[A-Za-z]/.test(name)) return false
  try {
    return new Intl.DateTimeFormat("en-US", { timeZone: name }).resolvedOptions().timeZone !== ""
  } catch {
    return false
  }
}
