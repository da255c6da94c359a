import { readFileSync } from "node:fs"
import { fileURLToPath } from "node:url"
import type { AiRow } from "../../server/domain/gs1/ai-table.ts"

/**
 * Makes server/domain/gs1/ai-table.ts from the GS1 Barcode Syntax Dictionary:
 *
 *     node --import tsx tests/support/gs1-table.ts DICTIONARY.txt > server/domain/gs1/ai-table.ts
 */

/** Checks of the dictionary that the parser makes: check digit, dates and times. The others are left out. */
const KEPT = ["csum", "yymmd0", "yymmdd", "yyyymmdd", "hhmi", "hh", "mi", "ss"]

/** The dictionary's entries: identifiers, format, flags, title, and what may follow in a Digital Link. */
export function rowsOfDictionary(text: string): AiRow[] {
  return text
    .split("\n")
    .filter((line) => /^[0-9]/.test(line))
    .map((line) => {
      const [entry = "", ...title] = line.split("#")
      const [identifiers = "", ...words] = entry.trim().split(/\s+/)
      const flags = words[0] && /^[*?]+$/.test(words[0]) ? words.shift()! : ""
      const format = words.filter((word) => /^\[?[NXYZ]\.{0,2}[0-9]+\]?(?:,|$)/.test(word))
      const key = words.find((word) => /^dlpkey(?:=|$)/.test(word))
      const row = [identifiers, format.map(withKeptChecks).join(" "), flags, title.join("#").trim()] as const
      return key === undefined ? row : [...row, key.slice("dlpkey=".length)]
    })
}

function withKeptChecks(component: string): string {
  const [type = "", ...checks] = component.split(",")
  return [type, ...checks.filter((check) => KEPT.includes(check))].join(",")
}

function tableModule(dictionary: string): string {
  const release = /^# Release: (.*)$/m.exec(dictionary)?.[1] ?? "not stated"
  const years = /^# Copyright \(c\) ([0-9-]+) GS1 AISBL$/m.exec(dictionary)?.[1] ?? ""
  const rows = rowsOfDictionary(dictionary).map(
    (row) => `  [${row.map((cell) => JSON.stringify(cell)).join(", ")}],`,
  )
  return `${HEAD.replace("RELEASE", release).replace("YEARS", years)}${rows.join("\n")}\n]\n`
}

const HEAD = `/*
 * The application identifiers of GS1: made by tests/support/gs1-table.ts, not by hand.
 *
 * Source: GS1 Barcode Syntax Dictionary, release "RELEASE" as its head says, copyright YEARS GS1 AISBL, and the
 * BWIPP and Zint projects; licensed under the Apache License, Version 2.0
 * (http://www.apache.org/licenses/LICENSE-2.0). Changed: reduced to format, length, character set, check digit,
 * dates and times, need of a separator, title, and place in a Digital Link.
 */

/**
 * One identifier, or a range of them ("3100-3105"): its format, flags, title, and for those a Digital Link can be
 * about, the identifiers that may follow it in order ("22,10,21|235": one order or the other).
 *
 * Format: components N (digits), X (character set 82), Y (set 39) or Z (base64url) with length ("N6") or longest
 * length ("X..20"), optional ones in brackets; then its checks: csum a check digit, yymmd0 a date whose day may be
 * 00, yymmdd, yyyymmdd, hhmi, hh, mi, ss. Flags: * its length is fixed by the standard and no separator follows;
 * ? it may stand among a Digital Link's attributes.
 */
export type AiRow = readonly [ais: string, format: string, flags: string, title: string, follows?: string]

// biome-ignore format: one identifier a line
export const AI_TABLE: readonly AiRow[] = [
`

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  process.stdout.write(tableModule(readFileSync(process.argv[2] ?? "", "utf8")))
}
