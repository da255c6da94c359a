import { z } from "zod"
import { type CodeRead, itemInCarton, readCode, SYMBOLOGIES, type Symbology } from "../domain/gs1.ts"
import type { StudioCodeKind } from "../domain/studio-code.ts"
import type { Studio } from "../ledger/studio.ts"
import { placeIn } from "../shelf/service.ts"
import { type PackInfo, packsByCode, packsInCode } from "../supplies/service.ts"
import { oneOf, orEmpty, scanned } from "../web/fields.ts"

/** A code as it came in, with the separators between its parts. */
export interface Scan {
  code: string
  symbology: Symbology
}

/** A GS1 code may hold a serial, a lot, dates and more; what is kept of it as a pack's own code is short. */
const LONGEST = 4_000

/** How a scan stands in an address of this room. */
export const scanFields = {
  code: scanned(LONGEST, "The code"),
  symbology: oneOf(SYMBOLOGIES, "How it was read").default("typed"),
}
/** The same where there may be none: the thing was found by name. */
export const scanFieldsOrNone = z.object({ ...scanFields, code: orEmpty(scanFields.code) })

/** The code of an address, or null. */
export function scanIn(query: z.output<typeof scanFieldsOrNone>): Scan | null {
  return query.code === null ? null : { code: query.code, symbology: query.symbology }
}

/** A scan for an address: how it was read is left out where that is what is taken anyway. */
export function inAddress(scan: Scan | null): { code: string | null; symbology: string | null } {
  if (scan === null) return { code: null, symbology: null }
  return { code: scan.code, symbology: scan.symbology === "typed" ? null : scan.symbology }
}

/** What a scanned or typed code means to a delivery. `code` is as it is kept, `shown` as it stands on the pack. */
export type ScanAnswer =
  /** `saysMore`: it knows more of the thing than its number */
  | { kind: "pack"; pack: PackInfo; code: string; shown: string; saysMore: boolean }
  | { kind: "packs"; packs: readonly PackInfo[]; code: string; shown: string; saysMore: boolean }
  /** the number of an outer carton, the first of its kind; which pack is in it is known */
  | { kind: "carton"; packs: readonly PackInfo[]; code: string; shown: string }
  /** nobody knows it yet; `doubt` when it may be a mistyped code of the studio's own */
  | { kind: "unknown"; code: string; shown: string; doubt: string | null }
  /** one of the studio's own; `name` null when it was never given out */
  | { kind: "own"; of: StudioCodeKind; code: string; name: string | null }
  /** a shelf's own label */
  | { kind: "place"; place: string }
  | Extract<CodeRead, { kind: "ask" }>
  | { kind: "bad"; sentence: string }

/** Finds out what a code is and, of a seller's code, which packs carry it. */
export function lookUp(studio: Studio, scan: Scan): ScanAnswer {
  const place = placeIn(scan.code)
  if (place !== null) return { kind: "place", place }
  const read = readCode({ text: scan.code, symbology: scan.symbology })
  switch (read.kind) {
    case "item":
      return byPacks(studio, { code: read.gtin14, shown: read.shown, saysMore: read.said !== undefined })
    case "text":
      return byPacks(studio, { code: read.text, shown: read.text, saysMore: false }, read.doubt)
    case "studio":
      return { kind: "own", of: read.of, code: read.code, name: ownName(studio, read.of, read.code) }
    case "ask":
      return knownChoice(studio, read)
    case "bad":
      return { kind: "bad", sentence: read.message }
  }
}

/** The form in which a code is kept with its pack. */
export function keptForm(scan: Scan): string {
  const read = readCode({ text: scan.code, symbology: scan.symbology })
  if (read.kind === "item") return read.gtin14
  return read.kind === "text" ? read.text : scan.code.trim()
}

interface Found {
  code: string
  shown: string
  saysMore: boolean
}

function byPacks(studio: Studio, found: Found, doubt: string | null = null): ScanAnswer {
  const { code, shown } = found
  const packs = packsByCode(studio, code)
  const [only] = packs
  if (!only) return cartonOrUnknown(studio, found, doubt)
  const saysMore = found.saysMore || packs.some((pack) => packsInCode(studio, pack.id, code) > 1)
  return packs.length === 1
    ? { kind: "pack", pack: only, code, shown, saysMore }
    : { kind: "packs", packs, code, shown, saysMore }
}

function cartonOrUnknown(studio: Studio, { code, shown }: Found, doubt: string | null): ScanAnswer {
  const inside = itemInCarton(code)
  const packs = inside === null ? [] : packsByCode(studio, inside.gtin14)
  return packs.length > 0 ? { kind: "carton", packs, code, shown } : { kind: "unknown", code, shown, doubt }
}

/** Nobody is asked which of two numbers is meant when only one of them is known here. */
function knownChoice(studio: Studio, ask: Extract<CodeRead, { kind: "ask" }>): ScanAnswer {
  const known = ask.choices.filter((choice) => packsByCode(studio, choice.gtin14).length > 0)
  const [only] = known
  if (!only || known.length > 1) return ask
  return byPacks(studio, { code: only.gtin14, shown: only.shown, saysMore: false })
}

function ownName(studio: Studio, of: StudioCodeKind, code: string): string | null {
  const name = (text: string) => studio.file.firstText<{ name: string }>(text, [code])?.name ?? null
  switch (of) {
    case "container":
      return name("SELECT s.name FROM container c JOIN supply s ON s.id = c.supply_id WHERE c.code = ?")
    case "cup":
      return name(
        `SELECT d.name FROM cup c JOIN batch b ON b.id = c.batch_id JOIN design_version v ON v.id = b.version_id
         JOIN design d ON d.id = v.design_id WHERE c.serial = ?`,
      )
    case "mix":
      return name("SELECT r.name FROM mix m JOIN resin_system r ON r.id = m.resin_system_id WHERE m.code = ?")
  }
}
