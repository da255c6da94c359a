import { Refusal } from "../domain/refusal.ts"
import type { Act } from "../ledger/act.ts"
import { made, type Thing } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import { addMaker, makers } from "./makers-sellers.ts"
import { addPack } from "./packs.ts"
import { addSupply, type SupplyInput } from "./supplies.ts"

/** The answers to "what is it?" after a code nobody knows. */
export interface NewThing {
  /** as it was scanned; null: it has none */
  code: string | null
  /** a new supply, or the id of one that is there already */
  supply: SupplyInput | number
  packName: string
  /** one that is known, or a new one by name; both empty: not known */
  makerId: number | null
  makerName: string | null
  /** in one container, in the supply's base unit */
  amount: number
  containerCount: number
  sellerId: number | null
  priceMicro: number | null
}

/**
 * Adds a thing in one go: its supply and maker where they are new, the pack and its code. A maker's name that
 * is known already is that maker.
 *
 * @param now the action it is a part of, so that an undo takes away what was new
 * @returns the pack's id
 * @throws {Refusal} a name is taken, something chosen is not there, or a price without a seller
 */
export function addNewThing(studio: Studio, thing: NewThing, now?: Act): number {
  const make = (kind: Thing, write: () => number) => (now ? made(now, kind, write) : write())
  return studio.file.transaction(() => {
    if (thing.priceMicro !== null && thing.sellerId === null) {
      throw new Refusal("Choose who sells it at that price, or leave the price empty.", { field: "sellerId" })
    }
    const { supply } = thing
    const supplyId = typeof supply === "number" ? supply : make("supply", () => addSupply(studio, supply))
    const makerId =
      knownMaker(studio, thing) ??
      (thing.makerName === null || thing.makerName.trim() === ""
        ? null
        : make("maker", () => addMaker(studio, { name: thing.makerName?.trim() ?? "" })))
    return make("pack", () =>
      addPack(studio, {
        name: thing.packName,
        makerId,
        codes: thing.code === null ? [] : [thing.code],
        contents: [{ supplyId, amount: thing.amount, containerCount: thing.containerCount }],
        offers:
          thing.sellerId === null || thing.priceMicro === null
            ? []
            : [{ sellerId: thing.sellerId, priceMicro: thing.priceMicro }],
      }),
    )
  })
}

function knownMaker(studio: Studio, { makerId, makerName }: NewThing): number | null {
  const name = makerName?.trim().toLowerCase() ?? ""
  return makerId ?? makers(studio).find((maker) => maker.name.toLowerCase() === name)?.id ?? null
}
