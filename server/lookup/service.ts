import { Refusal } from "../domain/refusal.ts"
import { parseStudioCode, type StudioCode, studioCodeProblem } from "../domain/studio-code.ts"
import type { Studio } from "../ledger/studio.ts"
import { placeIn } from "../shelf/service.ts"
import { packsByCode } from "../supplies/service.ts"

/** What a code stands for. */
export type Found =
  | { kind: "page"; to: string }
  /** a lot number that several lots carry */
  | { kind: "lots"; lots: { lotId: number; supply: string; maker: string | null }[] }
  /** a code printed on a pack: the supplies inside */
  | { kind: "pack"; pack: string; supplies: string[] }
  | { kind: "nothing"; sentence: string }

/** One mix: the cups it went onto and the containers it was poured from. */
export interface Mix {
  code: string
  resinSystem: string
  layer: string
  batchId: number
  mixedAt: string
  undone: boolean
  cups: { serial: string }[]
  containers: { code: string; supply: string }[]
}

/**
 * Finds what a scanned or typed code is: the studio's own (container, cup, mix), a lot number, or a pack's.
 *
 * @param text as it came, at most 200 characters
 */
export function find(studio: Studio, text: string): Found {
  const said = text.trim()
  if (said === "") return { kind: "nothing", sentence: "Scan a code, or type one." }
  const place = placeIn(said)
  if (place !== null) return { kind: "page", to: `/shelf/place?${new URLSearchParams({ name: place })}` }
  const own = parseStudioCode(said)
  const page = own === null ? null : pageOf(studio, own)
  if (page !== null) return { kind: "page", to: page }

  const lots = lotsNumbered(studio, said)
  const [lot, ...more] = lots
  if (lot && more.length === 0) return { kind: "page", to: `/lots/${lot.lotId}` }
  if (lot) return { kind: "lots", lots }

  const [pack] = packsByCode(studio, said)
  if (pack) return { kind: "pack", pack: pack.name, supplies: pack.contents.map((one) => one.supply) }
  return { kind: "nothing", sentence: sentenceFor(said, own) }
}

/** @throws {Refusal} 404: no such mix */
export function mixByCode(studio: Studio, code: string): Mix {
  const { file } = studio
  const row = file.firstText<
    Omit<Mix, "cups" | "containers" | "undone"> & { coatId: number; undone: number }
  >(
    `SELECT m.code, r.name AS resinSystem, l.name AS layer, c.batch_id AS batchId, a.happened_at AS mixedAt,
       m.coat_id AS coatId, EXISTS (SELECT 1 FROM action u WHERE u.reverses_action_id = a.id) AS undone
     FROM mix m JOIN resin_system r ON r.id = m.resin_system_id JOIN coat c ON c.id = m.coat_id
     JOIN layer l ON l.id = c.layer_id JOIN action a ON a.id = c.action_id WHERE m.code = ?`,
    [code],
  )
  if (!row) throw new Refusal(`There is no mix with the code ${code}.`, { status: 404 })
  const { coatId, undone, ...mix } = row
  return {
    ...mix,
    undone: undone === 1,
    cups: file.allText(
      "SELECT u.serial FROM coat_cup c JOIN cup u ON u.id = c.cup_id WHERE c.coat_id = ? ORDER BY u.id",
      [coatId],
    ),
    containers: file.allText(
      `SELECT DISTINCT c.code, s.name AS supply FROM movement m JOIN container c ON c.id = m.container_id
       JOIN supply s ON s.id = c.supply_id WHERE m.coat_id = ? AND m.kind = 'use' ORDER BY c.id`,
      [coatId],
    ),
  }
}

function pageOf({ file }: Studio, { kind, code }: StudioCode): string | null {
  const isThere = (query: string) => file.firstText(query, [code]) !== undefined
  switch (kind) {
    case "container":
      return isThere("SELECT 1 FROM container WHERE code = ?") ? `/containers/${code}` : null
    case "cup":
      return isThere("SELECT 1 FROM cup WHERE serial = ?") ? `/cups/${code}` : null
    case "mix":
      return isThere("SELECT 1 FROM mix WHERE code = ?") ? `/mixes/${code}` : null
  }
}

function lotsNumbered(
  { file }: Studio,
  number: string,
): { lotId: number; supply: string; maker: string | null }[] {
  return file.allText(
    `SELECT l.id AS lotId, s.name AS supply, k.name AS maker FROM lot l JOIN supply s ON s.id = l.supply_id
     LEFT JOIN maker k ON k.id = l.maker_id WHERE l.number = ? COLLATE NOCASE ORDER BY s.name LIMIT 50`,
    [number],
  )
}

function sentenceFor(said: string, own: StudioCode | null): string {
  if (own !== null) return `${own.code} looks right, but no ${own.kind} of this studio has that code.`
  return (
    studioCodeProblem(said) ?? `“${said.slice(0, 60)}” is no code, lot number or pack that is known here.`
  )
}
