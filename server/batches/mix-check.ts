import type { MixHardness } from "../../db/tables.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"

export const HARDNESS = ["hard", "tacky", "soft"] as const satisfies readonly MixHardness[]

/** How a mix was found later. */
export interface MixCheck {
  happenedAt: string
  /** null: not felt */
  hardness: MixHardness | null
  /** where a sample of it is kept; "": none */
  witness: string
  note: string
}

/**
 * Notes how hard a mix has become, and where a sample of it is kept.
 *
 * @returns what to mind, if it is not hard
 * @throws {Refusal} no such mix, its coat was undone, or nothing is said
 */
export function checkMix(
  studio: Studio,
  by: Actor,
  input: { code: string; hardness: MixHardness | null; witness: string; note: string },
): Done<{ remarks: string[] }> {
  const { code, hardness, witness, note } = input
  return act(studio, "check", by, input, (now) => {
    const mix = now.file.firstText<{ id: number; stands: number }>(
      `SELECT x.id, ${stands("c.action_id")} AS stands FROM mix x JOIN coat c ON c.id = x.coat_id WHERE x.code = ?`,
      [code],
    )
    if (!mix) throw new Refusal(`There is no mix with the code ${code}.`, { status: 404 })
    if (mix.stands === 0)
      throw new Refusal("This mix was undone: nothing is noted on it any more.", { status: 409 })
    if (hardness === null && witness === "" && note === "")
      throw new Refusal("Say how hard it is, or where a sample is kept.", { field: "hardness" })
    now.file.insert("mix_check", { action_id: now.actionId, mix_id: mix.id, hardness, witness, note })
    const said = [...(hardness === null ? [] : [hardness]), ...(witness === "" ? [] : ["sample kept"])]
    return {
      summary: `Mix ${code}: ${said.length === 0 ? "a note" : said.join(", ")}`,
      answer: { remarks: hardness === null || hardness === "hard" ? [] : [NOT_HARD] },
    }
  })
}

/** Blames nothing: what it comes from is not known yet. Common practice, no source. */
const NOT_HARD =
  "Uncured resin: gloves on, do not sand it, keep its cups back. It may only need warmth and time; if it stays so, ratio, stirring, cold or an old hardener may be behind it."

/** What was noted on a mix and stands, the first first. */
export function checksOfMix({ file }: Studio, code: string): MixCheck[] {
  return file.allText<MixCheck>(
    `SELECT a.happened_at AS happenedAt, k.hardness, k.witness, k.note
     FROM mix_check k JOIN mix x ON x.id = k.mix_id JOIN action a ON a.id = k.action_id
     WHERE x.code = ? AND ${stands("a.id")} ORDER BY k.id`,
    [code],
  )
}

/** The mixes on the cups of a batch, the first first, and how each was last found; null: not felt yet. */
export function mixesOn(
  { file }: Studio,
  batchId: number,
): { code: string; position: number; hardness: MixHardness | null }[] {
  return file.allText(
    `SELECT x.code, l.position, (
         SELECT k.hardness FROM mix_check k WHERE k.mix_id = x.id AND k.hardness IS NOT NULL AND ${stands("k.action_id")}
         ORDER BY k.id DESC LIMIT 1
       ) AS hardness
     FROM mix x JOIN coat c ON c.id = x.coat_id JOIN layer l ON l.id = c.layer_id
     WHERE ${stands("c.action_id")} AND c.id IN (
       SELECT o.coat_id FROM cup u JOIN coat_cup o ON o.cup_id = u.id WHERE u.batch_id = ?
     ) ORDER BY x.id`,
    [batchId],
  )
}
