import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import { parseStudioCode, studioCodeProblem } from "../domain/studio-code.ts"
import type { Studio } from "../ledger/studio.ts"
import { id, optionalText, rows } from "../web/fields.ts"
import type { WrittenCoat } from "./coats.ts"
import type { EachWeighed } from "./each-weighed.ts"
import { readLoss, type weighedBefore } from "./measured-form.ts"

/** A container's weight before and after a coat; its code is typed where the page did not list it. */
export const eachWeighed = rows(
  z.object({
    coatId: id,
    supplyId: id,
    code: optionalText(60, "Its code"),
    before: optionalText(40, "Before"),
    after: optionalText(40, "After"),
  }),
  { max: 400, blankWhen: "supplyId" },
)

/**
 * Containers that were weighed each by itself, by coat and supply; what stays empty is not said.
 *
 * @throws {Refusal} beside its field: weights that cannot be read, a container that is not known or stands there twice,
 *   or the same supply weighed all together as well
 */
export function readEachWeighed(
  studio: Studio,
  coats: readonly WrittenCoat[],
  form: { each: z.output<typeof eachWeighed>; weighed: z.output<typeof weighedBefore> },
): EachWeighed[] {
  const found = new Map<
    string,
    EachWeighed & { given: { containerId: number; amount: number }[]; field: string }
  >()
  for (const [index, { coatId, supplyId, code, before, after }] of form.each.entries()) {
    if (before === "" && after === "") continue
    const use = coats.find((coat) => coat.coatId === coatId)?.uses.find((one) => one.supplyId === supplyId)
    if (!use) throw new Refusal("That coat is not one of this layer any more.", { status: 409 })
    refuseTogether(form.weighed, { coatId, supplyId, supply: use.supply, field: `each[${index}][before]` })
    const containerId = containerOf(studio, code, use.supply, `each[${index}][code]`)
    const supply = { ...use, id: supplyId, name: code }
    const loss = readLoss(supply, { supplyId, before, after, used: "" }, `each[${index}]`)
    const field = `each[${index}][before]`
    const one = found.get(`${coatId} ${supplyId}`) ?? { coatId, supplyId, field, given: [] }
    found.set(`${coatId} ${supplyId}`, one)
    if (one.given.some((given) => given.containerId === containerId))
      throw new Refusal(`${code} stands there twice. Weigh it once.`, { field })
    one.given.push({ containerId, amount: loss?.amount ?? 0 })
  }
  return [...found.values()]
}

function refuseTogether(
  weighed: z.output<typeof weighedBefore>,
  { coatId, supplyId, supply, field }: { coatId: number; supplyId: number; supply: string; field: string },
): void {
  const line = weighed.find((one) => one.coatId === coatId && one.supplyId === supplyId)
  if (!line || line.before + line.after + line.used === "") return
  throw new Refusal(
    `${supply} is weighed all together and each by itself. Write one of the two, and empty the other.`,
    { field },
  )
}

function containerOf(studio: Studio, code: string, supply: string, field: string): number {
  if (code === "") throw new Refusal(`Which ${supply} was it? Write its code.`, { field })
  const read = parseStudioCode(code)
  const found =
    read && studio.file.firstText<{ id: number }>("SELECT id FROM container WHERE code = ?", [read.code])
  if (found) return found.id
  throw new Refusal(studioCodeProblem(code) ?? `There is no container with the code ${code}.`, { field })
}
