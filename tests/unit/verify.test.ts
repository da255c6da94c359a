import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import Database from "better-sqlite3"
import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { connectToRead } from "../../db/file.ts"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { finishBatch, startBatch, takeInsteadOf } from "../../server/batches/service.ts"
import { countLine, endStocktake, startStocktake } from "../../server/counting/service.ts"
import { addDesign, latestVersionId } from "../../server/designs/service.ts"
import { act } from "../../server/ledger/act.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { made } from "../../server/ledger/row-change.ts"
import type { Studio } from "../../server/ledger/studio.ts"
import { closeDelivery, reopenDelivery } from "../../server/receiving/service.ts"
import { countContainer, topUp, writeOff } from "../../server/shelf/service.ts"
import { addPack, setOffer } from "../../server/supplies/service.ts"
import { RULES, verify } from "../../server/verify/service.ts"
import { someone } from "../support/studio.ts"

/**
 * For each rule of the book, a way to break it that the file's own triggers would have stopped: they are taken
 * away first, as someone with another program could.
 */
const BREAKS: Record<string, string> = {
  "the schema is this program's": "DROP TRIGGER movement_stays",
  "references lead somewhere": "UPDATE container SET lot_id = 999999 WHERE id = 1",
  "amounts add up":
    "UPDATE container SET amount_left = amount_left + 1 WHERE id = (SELECT max(id) FROM container)",
  "movements replay":
    "UPDATE movement SET cost_micro = cost_micro - 1 WHERE id = (SELECT max(id) FROM movement WHERE kind = 'use')",
  "transfers balance":
    "UPDATE movement SET amount = amount + 1 WHERE id = (SELECT min(id) FROM movement WHERE kind = 'transfer' AND amount > 0)",
  "receipts keep their cost": "UPDATE receipt_line SET price_micro = price_micro + 1 WHERE id = 1",
  "deliveries share out their costs":
    "UPDATE container_cost SET share_micro = share_micro + 1 WHERE id = (SELECT min(id) FROM container_cost)",
  "only deliveries share out costs":
    "UPDATE container SET receipt_line_id = NULL WHERE id = (SELECT min(container_id) FROM container_cost)",
  "undo takes back shares of costs":
    "UPDATE container_cost SET share_micro = share_micro - 1 WHERE id = (SELECT max(id) FROM container_cost WHERE share_micro < 0)",
  "places and weights follow their changes": "UPDATE container SET place = 'Elsewhere' WHERE id = 1",
  "undo takes back all of it":
    "DELETE FROM movement WHERE id = (SELECT max(id) FROM movement WHERE kind = 'reverse')",
  "only an undo takes back":
    "UPDATE movement SET action_id = (SELECT max(id) FROM action WHERE kind = 'coat') WHERE id = (SELECT max(id) FROM movement WHERE kind = 'reverse')",
  "an undo is not undone":
    "UPDATE action SET reverses_action_id = (SELECT max(id) FROM action) WHERE id = (SELECT max(id) - 2 FROM action)",
  "times make sense": "UPDATE action SET happened_on = '2031-01-01' WHERE id = 5",
  "nothing was taken out of the history": "DELETE FROM action WHERE id = 7",
  "nothing is used before it came": "UPDATE delivery SET received_on = '2031-01-01' WHERE id = 1",
  "holds follow their marks": "UPDATE lot SET held = 1 - held WHERE id = 1",
  "the bench follows its marks": "UPDATE container SET on_bench = 1 - on_bench WHERE id = 1",
  "opened follows its marks":
    "UPDATE container SET opened_at = NULL WHERE id = (SELECT container_id FROM movement WHERE kind = 'use' LIMIT 1)",
  "cups follow their changes": "UPDATE cup SET state = 'returned' WHERE id = 1",
  "substitutes are counted alike":
    "UPDATE supply SET base_unit = 'mm2' WHERE id = (SELECT min(substitute_id) FROM supply_substitute)",
  "a resin stands in for one of the design's":
    "UPDATE batch_resin_substitute SET system_id = substitute_id, substitute_id = NULL",
  "a mix is of the design's resin or of one chosen for it":
    "UPDATE mix SET resin_system_id = (SELECT id FROM resin_system r WHERE r.id <> mix.resin_system_id) WHERE id = 1",
  "cups are in the batch they went on in":
    "UPDATE cup SET batch_id = (SELECT max(id) FROM batch WHERE id <> cup.batch_id) WHERE id = 1",
  "used designs are frozen":
    "UPDATE design_version SET frozen = 0 WHERE id = (SELECT version_id FROM batch LIMIT 1)",
  "every container knows its lots": "DELETE FROM container_lot WHERE container_id = 1",
  "a top-up brings its lots":
    "DELETE FROM container_lot WHERE movement_id = (SELECT min(id) FROM movement WHERE kind = 'transfer' AND amount > 0)",
  "a lot is of the container's supply":
    "UPDATE lot SET supply_id = supply_id + 1, number = 'another' WHERE id = 1",
  "every coat is on a cup of its batch": "DELETE FROM coat_cup WHERE coat_id = 1",
  "every coat is a layer of its design":
    "UPDATE coat SET layer_id = (SELECT min(l.id) FROM layer l JOIN batch b ON b.id = 1 WHERE l.version_id <> b.version_id) WHERE batch_id = 1",
  "a mix is what was poured": "UPDATE mix SET actual_a = actual_a + 500 WHERE id = 1",
  "a coat leads to its bottles": "UPDATE movement SET coat_id = NULL WHERE coat_id = 1",
  "what a coat used was used in its own action":
    "UPDATE movement SET coat_id = (SELECT max(id) FROM coat) WHERE id = (SELECT min(id) FROM movement WHERE coat_id IS NOT NULL)",
  "what was edited stands as it was left":
    "UPDATE customer_order SET note = 'never said' WHERE id = (SELECT max(thing_id) FROM row_change WHERE thing = 'order')",
  "an accepted count is written": "UPDATE stocktake_line SET found = found + 1",
  "a count ends once":
    "INSERT INTO stocktake_end (action_id, stocktake_id, how) SELECT max(id), 1, 'dropped' FROM action",
  "codes pass their check": "UPDATE cup SET serial = 'T0000X' WHERE id = 1",
}

const folder = mkdtempSync(join(tmpdir(), "lotcup-verify-"))
const good = join(folder, "good.db")

beforeAll(() => {
  const file = openStudioFile(good)
  const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
  loadDemo(file, now)
  topUpAndUndo({ file, now: () => now })
  shareCostsAndUndo({ file, now: () => now })
  countAndAccept({ file, now: () => now })
  anotherResin({ file, now: () => now })
  designThenCups({ file, now: () => now })
  packThenItsPrice({ file, now: () => now })
  file.runText("PRAGMA wal_checkpoint(TRUNCATE)")
  file.close()
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** What the demo's history has none of: a bottle topped up, and a count undone. */
function topUpAndUndo(studio: Studio): void {
  const twoOfOneSupply = studio.file.allText<{ code: string }>(
    `SELECT c.code FROM container c JOIN lot l ON l.id = c.lot_id JOIN supply s ON s.id = c.supply_id
     WHERE c.amount_left > 10000 AND s.base_unit = 'uL' AND c.held = 0 AND c.supply_id = (
       SELECT supply_id FROM container WHERE amount_left > 10000 GROUP BY supply_id
       HAVING count(*) > 1 AND supply_id IN (SELECT id FROM supply WHERE base_unit = 'uL') LIMIT 1) LIMIT 2`,
  )
  const [from, to] = twoOfOneSupply.map((row) => row.code)
  if (from === undefined || to === undefined) throw new Error("the demo has no two bottles of one supply")
  topUp(studio, someone(), { fromCode: from, toCode: to, amount: 5000 })
  const counted = countContainer(studio, someone(), { code: to, amount: 1234, basis: "measured" })
  reverse(studio, someone(), counted.actionId)
}

/** A count of two bottles that is accepted, one of them emptied in the meantime; one line counted anew, one taken back. */
function countAndAccept(studio: Studio): void {
  const [one, other, third] = studio.file
    .allText<{ code: string; amount: number }>(
      `SELECT c.code, c.amount_left AS amount FROM container c JOIN supply s ON s.id = c.supply_id
       WHERE s.base_unit = 'uL' AND c.amount_left > 50000 AND c.held = 0 ORDER BY c.id LIMIT 3`,
    )
    .map(({ code, amount }) => ({ code, amount }))
  const { id } = startStocktake(studio, someone(), { kind: null, place: null, blind: false }).answer
  const put = (code: string, amount: number) =>
    countLine(studio, someone(), { stocktakeId: id, code, amount, basis: "measured" })
  put(one!.code, one!.amount - 2_000)
  put(one!.code, one!.amount - 3_000)
  put(other!.code, 1_000)
  reverse(studio, someone(), put(third!.code, 7_000).actionId)
  writeOff(studio, someone(), { code: other!.code, amount: null, kind: "waste", reason: "spilled" })
  endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })
}

/** A batch that takes another resin in place of its design's, and has a coat of it. */
function anotherResin(studio: Studio): void {
  const { file } = studio
  const { own, other } = file.firstText<{ own: number; other: number }>(
    "SELECT system_id AS own, substitute_id AS other FROM resin_substitute",
  )!
  const { version } = file.firstText<{ version: number }>(
    `SELECT max(l.version_id) AS version FROM layer_use u JOIN layer l ON l.id = u.layer_id WHERE u.resin_system_id = ?`,
    [own],
  )!
  const { batchId } = startBatch(studio, someone(), { versionId: version, cups: 1, note: "" }).answer
  takeInsteadOf(studio, someone(), { batchId, choice: { systemId: own, substituteId: other } })
  finishBatch(studio, someone(), { batchId, exceptions: [], scuff: false })
  const mixes = file.allText<{ id: number }>(
    `SELECT DISTINCT x.resin_system_id AS id FROM mix x JOIN coat c ON c.id = x.coat_id WHERE c.batch_id = ?`,
    [batchId],
  )
  if (mixes.length !== 1 || mixes[0]?.id !== other) throw new Error("the other resin was not taken")
}

/** A design that was kept as a person keeps it, and cups begun with it: that freezes it, which is no edit of it. */
function designThenCups(studio: Studio): void {
  const { blankSupplyId } = studio.file.firstText<{ blankSupplyId: number }>(
    "SELECT min(supply_id) AS blankSupplyId FROM blank",
  )!
  const times = { handsOnMin: 10, turnerMin: 0, recoatEarliestMin: 0, recoatLatestMin: null }
  const layers = [{ kind: "prep" as const, name: "Prep", ...times, band: null, uses: [] }]
  const design = { name: "Bare cup", version: { blankSupplyId, fullCureMin: 0, priceMicro: 0, layers } }
  const { answer } = act(studio, "design", someone(), design, (now) => ({
    summary: "The design Bare cup is kept",
    answer: made(now, "design", () => addDesign(studio, design).designId),
  }))
  startBatch(studio, someone(), { versionId: latestVersionId(studio, answer), cups: 1, note: "" })
}

/** A pack that was added by hand, and the price its first delivery taught: nobody edited that either. */
function packThenItsPrice(studio: Studio): void {
  const { supplyId, sellerId } = studio.file.firstText<{ supplyId: number; sellerId: number }>(
    "SELECT min(s.id) AS supplyId, min(l.id) AS sellerId FROM supply s, seller l",
  )!
  const contents = [{ supplyId, amount: 1000, containerCount: 1 }]
  const pack = { name: "A pack of its own", makerId: null, contents, codes: [], offers: [] }
  const { answer } = act(studio, "set up", someone(), pack, (now) => ({
    summary: "A pack of its own is added to the packs",
    answer: made(now, "pack", () => addPack(studio, pack)),
  }))
  setOffer(studio, answer, { sellerId, priceMicro: 5_000_000 })
}

/** A delivery with shipping and tax, finished, opened again, finished otherwise; another whose finish was undone. */
function shareCostsAndUndo(studio: Studio): void {
  const [last, before] = studio.file.allText<{ id: number }>(
    "SELECT id FROM delivery ORDER BY id DESC LIMIT 2",
  )
  const extras = { shippingMicro: 12_500_000, taxMicro: 7_310_001 }
  reopenDelivery(studio, someone(), last!.id)
  closeDelivery(studio, someone(), last!.id, extras)
  reopenDelivery(studio, someone(), last!.id)
  closeDelivery(studio, someone(), last!.id, { ...extras, taxMicro: 0 })
  reopenDelivery(studio, someone(), before!.id)
  const finished = closeDelivery(studio, someone(), before!.id, extras)
  reverse(studio, someone(), finished.actionId)
}

/** The demo's book with its triggers gone and one thing broken. */
function broken(change: string): string {
  const path = join(folder, "broken.db")
  for (const more of ["", "-wal", "-shm"]) rmSync(path + more, { force: true })
  copyFileSync(good, path)
  const db = new Database(path)
  db.pragma("foreign_keys = OFF")
  if (!change.startsWith("DROP TRIGGER")) {
    const triggers = db.prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'").pluck().all()
    for (const name of triggers) db.exec(`DROP TRIGGER ${name}`)
  }
  const before = db.prepare("SELECT total_changes()").pluck().get() as number
  db.exec(change)
  const after = db.prepare("SELECT total_changes()").pluck().get() as number
  if (!change.startsWith("DROP") && after === before) throw new Error(`Nothing was there to break: ${change}`)
  db.pragma("journal_mode = DELETE")
  db.close()
  return path
}

function rulesBroken(path: string): Set<string> {
  const file = connectToRead(path)
  try {
    return new Set(verify(file).map((finding) => finding.rule))
  } finally {
    file.close()
  }
}

test("the demo's 18 months of work agree with every rule", () => {
  const file = connectToRead(good)
  expect(verify(file)).toEqual([])
  file.close()
})

/** What was written down of an edited thing that still counts, though columns and rows of it come by themselves. */
const EDITED_ALL_THE_SAME = {
  "a design's price":
    "UPDATE design_version SET price_micro = 77 WHERE design_id = (SELECT max(thing_id) FROM row_change WHERE thing = 'design')",
  "a pack's contents":
    "UPDATE pack_content SET amount = 77 WHERE pack_id = (SELECT max(thing_id) FROM row_change WHERE thing = 'pack')",
}

describe("a book with one rule broken is not called well, and the rule is named", () => {
  test.each(Object.entries(BREAKS))("%s", (rule, change) => {
    expect(rulesBroken(broken(change))).toContain(rule)
  })

  test.each(Object.entries(EDITED_ALL_THE_SAME))("edited in secret: %s", (_what, change) => {
    expect(rulesBroken(broken(change))).toContain("what was edited stands as it was left")
  })

  test("a damaged page of the file", () => {
    const path = broken("DROP TRIGGER movement_stays")
    const bytes = readFileSync(path)
    bytes.fill(0x5a, 40 * 4096, 44 * 4096)
    writeFileSync(path, bytes)
    let told: string[]
    try {
      told = [...rulesBroken(path)]
    } catch (error) {
      // SQLite may refuse to read on at all: that too says that the file is not well
      told = [String((error as Error).message)]
    }
    expect(told.some((one) => one === "the file is sound" || /malformed|damaged/.test(one))).toBe(true)
  })

  test("no rule is left without a way to break it", () => {
    const tried = new Set([...Object.keys(BREAKS), "the file is sound"])
    expect(RULES.map((rule) => rule.name).filter((name) => !tried.has(name))).toEqual([])
  })
})
