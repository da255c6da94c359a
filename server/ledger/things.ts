import type { Tables } from "../../db/tables.ts"

/** Rows of one table that belong to a thing. */
export interface Part {
  table: keyof Tables
  /** the column that names the thing, or the row of another part */
  of: string
  /** which rows of that other part: a query with the thing's id for `?` */
  within?: string
  /** what tells the rows apart, where it is not the primary key; then the row's own id means nothing */
  key?: readonly string[]
  /** columns that follow from what is done with it: nobody edits them, and no change of them is written down */
  follows?: readonly string[]
  /** rows may come by themselves: what was paid for a pack is its seller's price until somebody says another */
  learned?: true
}

/** What else may rest on a thing as it stands, besides rows that point at it. */
interface Rests {
  why: string
  /**
   * A query with :id, and :now and :before as JSON (null: none), giving the `action_id` of what rests on it; null
   * where the action is not known.
   */
  actions: string
}

interface Kind {
  /** its own row first; rows that point at others after them */
  parts: readonly Part[]
  rests?: readonly Rests[]
}

const own = (table: Part["table"], of = "id"): Part => ({ table, of })

/** A supply counted in another unit than before, or of another kind. */
const COUNTED_OTHERWISE = ":now ->> '$.supply[0].base_unit' <> :before ->> '$.supply[0].base_unit'"

/**
 * What a person changes as one, and the rows it stands in. A table that is added for a thing is added here; a
 * column needs nothing.
 */
export const THINGS = {
  studio: { parts: [own("studio")] },
  buyer: { parts: [own("buyer")] },
  order: {
    parts: [own("customer_order"), own("order_line", "order_id")],
    rests: [
      {
        why: "cups were put on it or started for it",
        actions: `SELECT cc.action_id FROM json_each(:now, '$.order_line') n
          LEFT JOIN json_each(:before, '$.order_line') b ON b.value ->> 'id' = n.value ->> 'id'
          JOIN cup_change cc ON cc.order_line_id = n.value ->> 'id'
          WHERE b.value IS NULL OR b.value ->> 'design_id' <> n.value ->> 'design_id'`,
      },
    ],
  },
  purchase: { parts: [own("purchase")] },
  delivery: { parts: [own("delivery")] },
  maker: { parts: [own("maker")] },
  seller: { parts: [own("seller")] },
  supply: {
    parts: [
      own("supply"),
      own("supply_hazard", "supply_id"),
      own("supply_substitute", "supply_id"),
      own("blank", "supply_id"),
      own("blank_ring", "blank_supply_id"),
    ],
    rests: [
      {
        why: "some of it came in, counted as it is now",
        actions: `SELECT m.action_id FROM container c JOIN movement m ON m.container_id = c.id
          WHERE c.supply_id = :id AND m.kind = 'receive' AND ${COUNTED_OTHERWISE}`,
      },
      {
        why: "packs, designs, a resin system or a substitute count it as it is now",
        actions: `SELECT NULL AS action_id WHERE ${COUNTED_OTHERWISE} AND (
          EXISTS (SELECT 1 FROM pack_content WHERE supply_id = :id)
          OR EXISTS (SELECT 1 FROM layer_use WHERE supply_id = :id)
          OR EXISTS (SELECT 1 FROM resin_system WHERE :id IN (part_a_supply_id, part_b_supply_id))
          OR EXISTS (SELECT 1 FROM supply_substitute WHERE :id IN (supply_id, substitute_id)))`,
      },
      {
        why: "it may be used in place of another supply",
        actions: `SELECT c.action_id FROM supply_substitute x
          LEFT JOIN row_change c ON c.thing = 'supply' AND c.thing_id = x.supply_id
          WHERE x.substitute_id = :id AND :before IS NULL`,
      },
      {
        why: "a resin system needs its density",
        actions: `SELECT NULL AS action_id FROM resin_system
          WHERE :id IN (part_a_supply_id, part_b_supply_id) AND :before IS NOT NULL
            AND :before ->> '$.supply[0].density_mg_per_ml' IS NULL
            AND (ratio_basis = 'mass' OR :before ->> '$.supply[0].base_unit' = 'mg')`,
      },
    ],
  },
  pack: {
    parts: [
      own("pack"),
      own("pack_content", "pack_id"),
      own("pack_code", "pack_id"),
      { ...own("offer", "pack_id"), learned: true },
      own("offer_break", "pack_id"),
    ],
  },
  // a receipt may learn a lot's dates, and it is held by a mark
  lot: {
    parts: [{ ...own("lot"), follows: ["held", "made_on", "expires_on", "expiry_basis"] }],
    rests: [
      {
        why: "another lot has its old number by now",
        actions: `SELECT NULL AS action_id FROM lot mine JOIN lot o ON o.id <> mine.id AND o.supply_id = mine.supply_id
            AND coalesce(o.maker_id, 0) = coalesce(mine.maker_id, 0)
          WHERE mine.id = :id AND o.number = :before ->> '$.lot[0].number'`,
      },
    ],
  },
  scuff: { parts: [own("scuff"), own("scuff_use", "scuff_id")] },
  "resin-system": {
    parts: [own("resin_system"), own("resin_substitute", "system_id")],
    rests: [
      {
        why: "it may be used in place of another resin",
        actions: `SELECT c.action_id FROM resin_substitute x
          LEFT JOIN row_change c ON c.thing = 'resin-system' AND c.thing_id = x.system_id
          WHERE x.substitute_id = :id AND :before IS NULL`,
      },
    ],
  },
  design: {
    parts: [
      own("design"),
      { ...own("design_version", "design_id"), follows: ["frozen"] },
      { table: "layer", of: "version_id", within: "SELECT id FROM design_version WHERE design_id = ?" },
      {
        table: "layer_use",
        of: "layer_id",
        within: "SELECT l.id FROM layer l JOIN design_version v ON v.id = l.version_id WHERE v.design_id = ?",
        key: ["layer_id", "position"],
      },
    ],
    rests: [
      {
        why: "cups were begun with it",
        actions: `SELECT b.action_id FROM design_version v JOIN batch b ON b.version_id = v.id
          LEFT JOIN json_each(:before, '$.design_version') old ON old.value ->> 'id' = v.id
          WHERE v.design_id = :id AND (old.value IS NULL OR old.value ->> 'frozen' <> v.frozen)`,
      },
    ],
  },
} as const satisfies Record<string, Kind>

/** What a person changes as one. */
export type Thing = keyof typeof THINGS

/** How a row of a table uses the thing it points at, said of "it". */
const USES: Partial<Record<keyof Tables, string>> = {
  batch: "cups were begun with it",
  batch_resin_substitute: "a batch takes it in place of another resin",
  batch_substitute: "a batch takes it in place of another supply",
  coat: "cups were coated with it",
  container: "some of it is in the book",
  cup: "cups are on it",
  customer_order: "an order names it",
  delivery: "a delivery came from it",
  design_version: "a design is made on it",
  layer_use: "a design uses it",
  lot: "some of it is in the book",
  mix: "it was mixed",
  offer: "a pack has a price from it",
  offer_break: "a pack has a price from it",
  order_line: "an order asks for it",
  pack: "a pack is made by it",
  pack_content: "a pack contains it",
  purchase: "packs are on order from it",
  receipt_line: "something was received under it",
  receipt_problem: "something came under it that was not as it should be",
  resin_system: "a resin system is mixed from it",
  scuff_use: "cups are scuffed and wiped with it between coats",
}

export function kindOf(thing: string): Kind {
  const kind: Kind | undefined = Object.hasOwn(THINGS, thing) ? THINGS[thing as Thing] : undefined
  if (!kind) throw new Error(`there is no thing called ${thing}`)
  return kind
}

/** The rows of a part: SQL with the thing's id for `?`. */
export function whereOf({ of, within }: Part): string {
  return within === undefined ? `${of} = ?` : `${of} IN (${within})`
}

export function useBy(table: string): string {
  return USES[table as keyof Tables] ?? "it is in use"
}

/** Tables whose rows name the action that wrote them. */
const ACTED: readonly string[] = [
  "receipt_line",
  "receipt_problem",
  "batch",
  "batch_substitute",
  "batch_resin_substitute",
  "coat",
]

/** A query for the actions that wrote the rows of a table which point at something with `column`; null: not known. */
export function actionsBehind(table: string, column: string): string | null {
  if (table === "cup") return `SELECT action_id FROM cup_change WHERE ${column} = ?`
  if (ACTED.includes(table)) {
    return `SELECT action_id FROM ${table} WHERE ${column} = ?`
  }
  if (table === "lot" || table === "container") {
    const of = table === "lot" ? `c.lot_id IN (SELECT id FROM lot WHERE ${column} = ?)` : `c.${column} = ?`
    return `SELECT r.action_id FROM container c JOIN receipt_line r ON r.id = c.receipt_line_id WHERE ${of}`
  }
  for (const [thing, { parts }] of Object.entries<Kind>(THINGS)) {
    const part = parts.find((one) => one.table === table && one.within === undefined)
    if (!part) continue
    return `SELECT c.action_id FROM ${table} x JOIN row_change c ON c.thing = '${thing}' AND c.thing_id = x.${part.of}
      WHERE x.${column} = ?`
  }
  return null
}
