import type { Generated } from "kysely"

/** The tables as Kysely sees them; the truth is `migrations/`. 0 and 1 stand for no and yes. */
export interface Tables {
  studio: {
    id: number
    name: string
    time_zone: string
    currency: string
    units: "metric" | "us"
    volume_step_ul: number
    mass_step_mg: number
    turner_places: number
    work_min_per_day: number
    shipping_days: number
    labour_micro_per_hour: number
    is_demo: Generated<number>
    opens_min: Generated<number>
    turners: Generated<number>
    weekdays_off: Generated<string>
    days_off: Generated<string>
    spare_days: Generated<number>
    service_level_ppm: Generated<number>
  }
  device: {
    id: Generated<number>
    name: string
    token_hash: string
    paired_at: string
    last_seen_at: string
    removed_at: string | null
  }
  stocktake: {
    id: Generated<number>
    action_id: number
    kind: string | null
    place: string | null
    blind: number
  }
  stocktake_line: {
    id: Generated<number>
    action_id: number
    stocktake_id: number
    container_id: number
    found: number
    basis: MovementBasis
    book: number
    movement_id: number
  }
  stocktake_end: {
    id: Generated<number>
    action_id: number
    stocktake_id: number
    how: "accepted" | "dropped"
  }
  complaint: { id: Generated<number>; action_id: number; cup_id: number; what: string }
  told: { id: Generated<number>; action_id: number; lot_id: number; order_id: number; how: Generated<string> }
  maker: { id: Generated<number>; name: string }
  seller: {
    id: Generated<number>
    name: string
    lead_time_days: number
    minimum_micro: number | null
    shipping_micro: Generated<number>
    free_from_micro: number | null
  }
  supply: {
    id: Generated<number>
    name: string
    kind: SupplyKind
    base_unit: BaseUnit
    density_mg_per_ml: number | null
    shelf_life: number | null
    shelf_life_unit: LifeUnit | null
    open_life: number | null
    open_life_unit: LifeUnit | null
    lead_time_days: number | null
    minimum_amount: Generated<number>
    colour: string | null
    note: Generated<string>
    kept_back: Generated<number>
    sheet_width_um: number | null
    sheet_height_um: number | null
    roll_width_um: number | null
  }
  supply_hazard: { supply_id: number; hazard: string }
  supply_substitute: { supply_id: number; substitute_id: number; ratio_ppm: number }
  resin_system: {
    id: Generated<number>
    name: string
    part_a_supply_id: number
    part_b_supply_id: number
    ratio_basis: "volume" | "mass"
    ratio_a: number
    ratio_b: number
    pot_life_min: number
    largest_mix_ul: number
    mixing_min: number
    cup_work_min: number
    recoat_earliest_min: number
    recoat_latest_min: number | null
    full_cure_min: number
    max_pigment_ppm: number | null
  }
  resin_substitute: { system_id: number; substitute_id: number }
  blank: { supply_id: number; bare_lip_um: number; bare_base_um: number; coats_base: Generated<number> }
  blank_ring: { blank_supply_id: number; position: number; height_um: number; diameter_um: number }
  pack: { id: Generated<number>; name: string; maker_id: number | null }
  pack_content: {
    pack_id: number
    position: number
    supply_id: number
    amount: number
    container_count: Generated<number>
  }
  pack_code: { code: string; pack_id: number; packs: Generated<number> }
  offer: { pack_id: number; seller_id: number; price_micro: number }
  offer_break: { pack_id: number; seller_id: number; from_count: number; price_micro: number }
  action: {
    id: Generated<number>
    kind: string
    key: string
    request_hash: string
    happened_at: string
    happened_offset_min: number
    happened_on: string
    recorded_at: string
    device: string
    summary: string
    reason: Generated<string>
    answer: string
    reverses_action_id: number | null
  }
  row_change: {
    id: Generated<number>
    action_id: number
    thing: string
    thing_id: number
    before: string | null
    after: string | null
  }
  delivery: {
    id: Generated<number>
    seller_id: number | null
    received_on: string
    kind: "bought" | "opening"
    note: Generated<string>
    closed: Generated<number>
    shipping_micro: Generated<number>
    tax_micro: Generated<number>
  }
  purchase: {
    id: Generated<number>
    seller_id: number
    pack_id: number
    count: number
    ordered_on: string
    expected_on: string
    cancelled: Generated<number>
  }
  receipt_line: {
    id: Generated<number>
    delivery_id: number
    action_id: number
    pack_id: number | null
    purchase_id: number | null
    count: number
    price_micro: number
    serial: string | null
  }
  receipt_problem: {
    id: Generated<number>
    action_id: number
    delivery_id: number
    line_id: number | null
    purchase_id: number | null
    pack_id: number
    what: ReceiptProblem
    count: number
  }
  photo: {
    id: Generated<number>
    hash: string
    type: "image/jpeg" | "image/png" | "image/webp"
    bytes: Buffer
    kept_at: string
  }
  lot_photo: { action_id: number; lot_id: number; photo_id: number }
  lot: {
    id: Generated<number>
    supply_id: number
    maker_id: number | null
    number: string | null
    made_on: string | null
    expires_on: string | null
    expiry_basis: ExpiryBasis
    held: Generated<number>
  }
  container: {
    id: Generated<number>
    code: string
    supply_id: number
    lot_id: number
    receipt_line_id: number | null
    kit_unit: number | null
    full_amount: number
    empty_mg: number | null
    amount_left: Generated<number>
    cost_left_micro: Generated<number>
    last_movement_id: Generated<number>
    opened_at: string | null
    opened_on: string | null
    held: Generated<number>
    on_bench: Generated<number>
    width_um: number | null
    height_um: number | null
    last_cost_id: Generated<number>
    place: string | null
  }
  container_cost: {
    id: Generated<number>
    action_id: number
    container_id: number
    share_micro: number
    kept_micro: number
  }
  container_change: {
    id: Generated<number>
    action_id: number
    container_id: number
    place: string | null
    gross_mg: number | null
    empty_mg: number | null
  }
  container_lot: { container_id: number; lot_id: number; movement_id: number; use_by: string | null }
  movement: {
    id: Generated<number>
    action_id: number
    container_id: number
    kind: MovementKind
    amount: number
    cost_micro: number
    basis: MovementBasis
    coat_id: number | null
    source_container_id: number | null
    reverses_movement_id: number | null
  }
  mark: {
    id: Generated<number>
    action_id: number
    kind: MarkKind
    container_id: number | null
    lot_id: number | null
  }
  design: { id: Generated<number>; name: string }
  design_version: {
    id: Generated<number>
    design_id: number
    number: number
    blank_supply_id: number
    full_cure_min: number
    price_micro: Generated<number>
    frozen: Generated<number>
  }
  layer: {
    id: Generated<number>
    version_id: number
    position: number
    kind: LayerKind
    name: string
    hands_on_min: number
    turner_min: number
    recoat_earliest_min: number
    recoat_latest_min: number | null
    band_from_um: number | null
    band_to_um: number | null
  }
  layer_use: {
    id: Generated<number>
    layer_id: number
    position: number
    how: UseHow
    supply_id: number | null
    resin_system_id: number | null
    amount: number
    share_ppm: Generated<number>
    drip_ppm: Generated<number>
    residue_ul: Generated<number>
    wrap: "flat" | "wrap" | null
    width_um: number | null
    height_um: number | null
    overlap_um: number | null
    margin_um: number | null
    gap_um: number | null
    may_turn: number | null
    reprint_ppm: number | null
    passes: number | null
    solids_ppm: number | null
    transfer_ppm: number | null
  }
  buyer: { id: Generated<number>; name: string; contact: Generated<string> }
  customer_order: {
    id: Generated<number>
    buyer_id: number | null
    state: OrderState
    taken_on: string
    note: Generated<string>
  }
  order_line: {
    id: Generated<number>
    order_id: number
    position: number
    design_id: number
    quantity: number
    due_on: string
    note: Generated<string>
    price_micro: number | null
  }
  batch: { id: Generated<number>; action_id: number; version_id: number; note: Generated<string> }
  batch_substitute: {
    id: Generated<number>
    action_id: number
    batch_id: number
    supply_id: number
    substitute_id: number | null
    ratio_ppm: number
  }
  batch_resin_substitute: {
    id: Generated<number>
    action_id: number
    batch_id: number
    system_id: number
    substitute_id: number | null
  }
  cup: {
    id: Generated<number>
    serial: string
    batch_id: number
    state: CupState | null
    order_line_id: number | null
  }
  cup_change: {
    id: Generated<number>
    action_id: number
    cup_id: number
    state: CupState | null
    order_line_id: number | null
  }
  coat: {
    id: Generated<number>
    action_id: number
    batch_id: number
    layer_id: number
    workings: string
    insisted: Generated<number>
    scuff_min: number | null
    room_celsius_tenths: number | null
    room_humidity_percent: number | null
  }
  cup_move: {
    id: Generated<number>
    action_id: number
    cup_id: number
    from_batch_id: number
    to_batch_id: number
  }
  making_photo: {
    id: Generated<number>
    action_id: number
    photo_id: number
    coat_id: number | null
    cup_id: number | null
  }
  mix_check: {
    id: Generated<number>
    action_id: number
    mix_id: number
    hardness: MixHardness | null
    witness: Generated<string>
    note: Generated<string>
  }
  coat_cup: { coat_id: number; cup_id: number }
  coat_plan: { coat_id: number; supply_id: number; planned: number }
  coat_actual: {
    id: Generated<number>
    action_id: number
    coat_id: number
    supply_id: number
    amount: number
    basis: "weighed" | "measured" | "counted"
  }
  mix_left: { id: Generated<number>; action_id: number; coat_id: number; left_ul: number }
  strip: { action_id: number; cup_id: number; from_position: number }
  scuff: { id: number; minutes: number }
  scuff_use: { scuff_id: number; position: number; supply_id: number; amount: number }
  mix: {
    id: Generated<number>
    code: string
    coat_id: number
    resin_system_id: number
    planned_a: number
    planned_b: number
    actual_a: number
    actual_b: number
    residue_ul: number
  }
}

export type BaseUnit = "uL" | "mg" | "um" | "mm2" | "each"
export type SupplyKind =
  | "resin"
  | "hardener"
  | "paint"
  | "glitter"
  | "pigment"
  | "vinyl"
  | "solvent"
  | "abrasive"
  | "blank"
  | "consumable"
  | "packaging"
  | "other"
export type LifeUnit = "hours" | "days" | "months" | "never"
export type ExpiryBasis = "label" | "shelf-life" | "does-not-expire" | "unknown"
export type ReceiptProblem = "damaged" | "leaked" | "substituted"
export type MovementKind = "receive" | "use" | "transfer" | "count" | "waste" | "write-off" | "reverse"
export type MovementBasis = "planned" | "weighed" | "measured" | "counted" | "estimated"
export type MarkKind = "opened" | "held" | "released" | "benched" | "unbenched"
export type LayerKind =
  | "prep"
  | "base-coat"
  | "spray"
  | "resin"
  | "wash-off"
  | "vinyl"
  | "final-coat"
  | "counted"
export type UseHow =
  | "resin-film"
  | "resin-mixed"
  | "resin-applied"
  | "per-cup"
  | "per-area"
  | "sprinkled"
  | "per-resin"
  | "per-mix"
  | "per-batch"
  | "per-session"
  | "spray-film"
  | "piece"
export type MixHardness = "hard" | "tacky" | "soft"
export type OrderState = "draft" | "planned" | "done" | "cancelled"
export type CupState = "in work" | "good" | "second" | "scrapped" | "sent" | "returned"
