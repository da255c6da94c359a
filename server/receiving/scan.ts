import { type CodeRead, readCode, type Symbology } from "../domain/gs1.ts"
import type { StudioCodeKind } from "../domain/studio-code.ts"
import type { Studio } from "../ledger/studio.ts"
import { type PackInfo, packsByCode } from "../supplies/service.ts"

/** What a scanned or typed code means to a delivery. `code` is as it is kept, `shown` as it stands on the pack. */
export type ScanAnswer =
  | { kind: "pack"; pack: PackInfo; code: string; shown: string }
  | { kind: "packs"; packs: readonly PackInfo[]; code: string; shown: string }
  /** nobody knows it yet; `doubt` when it may be a mistyped code of the studio's own */
  | { kind: "unknown"; code: string; shown: string; doubt: string | null }
  /** one of the studio's own; `name` null when it was never given out */
  | { kind: "own"; of: StudioCodeKind; code: string; name: string | null }
  | Extract<CodeRead, { kind: "ask" }>
  | { kind: "bad"; sentence: string }

/** Finds out what a code is and, of a seller's code, which packs carry it. */
export function lookUp(studio: Studio, scan: { code: string; symbology: Symbology }): ScanAnswer {
  const read = readCode({ text: scan.code, symbology: scan.symbology })
  switch (read.kind) {
    case "item":
      return byPacks(studio, read.gtin14, read.shown, null)
    case "text":
      return byPacks(studio, read.text, read.text, read.doubt)
    case "studio":
      return { kind: "own", of: read.of, code: read.code, name: ownName(studio, read.of, read.code) }
    case "ask":
      return knownChoice(studio, read)
    case "bad":
      return { kind: "bad", sentence: read.message }
  }
}

function byPacks(studio: Studio, code: string, shown: string, doubt: string | null): ScanAnswer {
  const found = packsByCode(studio, code)
  const [only] = found
  if (!only) return { kind: "unknown", code, shown, doubt }
  return found.length === 1
    ? { kind: "pack", pack: only, code, shown }
    : { kind: "packs", packs: found, code, shown }
}

/** Nobody is asked which of two numbers is meant when only one of them is known here. */
function knownChoice(studio: Studio, ask: Extract<CodeRead, { kind: "ask" }>): ScanAnswer {
  const known = ask.choices.filter((choice) => packsByCode(studio, choice.gtin14).length > 0)
  const [only] = known
  return only && known.length === 1 ? byPacks(studio, only.gtin14, only.shown, null) : ask
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
