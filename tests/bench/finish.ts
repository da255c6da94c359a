import { copyFileSync } from "node:fs"
import { join } from "node:path"
import Database from "better-sqlite3"
import { Temporal } from "temporal-polyfill"
import type { StudioFile } from "../../db/file.ts"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { finishBatch, startBatch } from "../../server/batches/service.ts"
import { designs, planOf } from "../../server/designs/service.ts"
import { needTotals, planNeed } from "../../server/domain/layers.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { type Studio, settingsOf, todayOf } from "../../server/ledger/studio.ts"
import { receive, startDelivery } from "../../server/receiving/service.ts"
import { packs, suppliesList } from "../../server/supplies/service.ts"
import { cpuMs, type Line, median } from "./measure.ts"
import { recording, type Written } from "./recorder.ts"

const RICHEST = "Harbour night"
const CUPS = 24
/** Times fall until about the fortieth run, as the program's parts are compiled. */
const WARM_UPS = 40
const RUNS = 21
const NOW = Temporal.Instant.from("2026-12-01T18:00:00Z")

/**
 * Finishing a batch at once, every layer still to do, in a copy of the demo's file that is not flushed to disk:
 * against the same statements carried out by better-sqlite3 alone, prepared before, in one transaction, in a copy
 * of the same file with the same rules.
 */
export async function finishing(folder: string): Promise<Line[]> {
  const batches = [1, 2, 4].map((times) => startedBatch(folder, CUPS * times))
  for (let run = -WARM_UPS; run < RUNS; run++) {
    for (const batch of batches) {
      const program = finishInProgram(batch)
      const bare = replayBare(batch)
      if (run < 0) continue
      batch.program.push(program)
      batch.bare.push(bare)
    }
  }
  const [value, twice, fourTimes] = batches.map((batch) => median(batch.program))
  return [
    {
      name: `finish ${CUPS} cups of ${RICHEST} (${batches[0]!.written.length} row writes)`,
      value: value!,
      unit: "ms",
      floor: median(batches[0]!.bare),
      aim: { ratio: 3 },
      growth: { twice: twice! / value!, fourTimes: fourTimes! / value! },
    },
  ]
}

/** A file with a batch that only needs finishing, what finishing it writes, and the times taken so far. */
interface StartedBatch {
  path: string
  batchId: number
  written: readonly Written[]
  program: number[]
  bare: number[]
}

function startedBatch(folder: string, cups: number): StartedBatch {
  const path = join(folder, `started-${cups}.db`)
  const batchId = studioWithBatch(path, cups)
  const { file, written } = recording(openStudioFile(copyOf(path)))
  finish(file, batchId)
  file.close()
  return { path, batchId, written, program: [], bare: [] }
}

function finish(file: StudioFile, batchId: number): void {
  finishBatch({ file, now: () => NOW }, { device: "bench", key: "finish" }, { batchId, exceptions: [] })
}

/** Both are run once and taken back before they are timed, so that neither meets a cold file or statement. */
class TakenBack extends Error {}

function finishInProgram({ path, batchId }: StartedBatch): number {
  const file = openStudioFile(copyOf(path))
  file.runText("PRAGMA synchronous = OFF")
  takeBack(() =>
    file.transaction(() => {
      finish(file, batchId)
      throw new TakenBack()
    }),
  )
  const spent = cpuMs(() => finish(file, batchId))
  file.close()
  return spent
}

function replayBare({ path, written }: StartedBatch): number {
  const db = new Database(copyOf(path))
  for (const rule of [
    "foreign_keys = ON",
    "recursive_triggers = ON",
    "journal_mode = WAL",
    "synchronous = OFF",
  ])
    db.pragma(rule)
  const prepared = new Map<string, Database.Statement>()
  const steps = written.map(({ text, values }) => {
    const statement = prepared.get(text) ?? db.prepare(text)
    prepared.set(text, statement)
    return { statement, values }
  })
  const replay = db.transaction(() => {
    for (const { statement, values } of steps) statement.run(...values)
  })
  takeBack(
    db.transaction(() => {
      replay()
      throw new TakenBack()
    }),
  )
  const spent = cpuMs(() => replay.immediate())
  db.close()
  return spent
}

function takeBack(work: () => void): void {
  try {
    work()
  } catch (error) {
    if (!(error instanceof TakenBack)) throw error
  }
}

let copies = 0

function copyOf(path: string): string {
  copies += 1
  const copy = `${path}.${copies}`
  copyFileSync(path, copy)
  return copy
}

/** The demo studio with enough on the shelf and a batch of `cups` started. @returns the batch's id */
function studioWithBatch(path: string, cups: number): number {
  const file = openStudioFile(path)
  loadDemo(file, NOW)
  file.runText("PRAGMA synchronous = OFF")
  const studio: Studio = { file, now: () => NOW }
  const { versionId } = designs(studio).find((design) => design.name === RICHEST)!
  stockUp(studio, versionId, cups)
  const { answer } = startBatch(studio, { device: "bench", key: "start" }, { versionId, cups, note: "" })
  // the journal goes into the file, so that a copy of the file is whole
  file.firstText("PRAGMA wal_checkpoint(TRUNCATE)")
  file.close()
  return answer.batchId
}

/** Receives as many packs of everything as the cups take beyond what is there. */
function stockUp(studio: Studio, versionId: number, cups: number): void {
  const needs = needTotals(planNeed(planOf(studio, versionId), cups, settingsOf(studio)))
  const today = todayOf(studio)
  const usable = new Map<number, number>()
  for (const bottle of onHand(studio.file, settingsOf(studio).timeZone)) {
    if (bottle.held || (bottle.useBy !== null && bottle.useBy < today)) continue
    usable.set(bottle.supplyId, (usable.get(bottle.supplyId) ?? 0) + bottle.amountLeft - bottle.keptBack)
  }
  const by = { device: "bench", key: "delivery" }
  const { deliveryId } = startDelivery(studio, by, { sellerId: null, receivedOn: today, note: "" }).answer
  // the last of a spray can never comes out
  const keptBack = new Map(suppliesList(studio).map((supply) => [supply.id, supply.keptBack]))
  for (const pack of packs(studio)) {
    const lacking = pack.contents.map(
      ({ supplyId, amount }) =>
        ((needs.get(supplyId) ?? 0) - (usable.get(supplyId) ?? 0)) / (amount - keptBack.get(supplyId)!),
    )
    const count = Math.ceil(Math.max(...lacking))
    if (count <= 0) continue
    for (const { supplyId, amount } of pack.contents)
      usable.set(supplyId, (usable.get(supplyId) ?? 0) + count * amount)
    receive(
      studio,
      { device: "bench", key: `stock ${pack.id}` },
      {
        deliveryId,
        packId: pack.id,
        count,
        priceMicro: 10_000_000,
        lots: pack.contents.map(({ supplyId }) => ({
          supplyId,
          number: `B${pack.id}`,
          madeOn: null,
          expiresOn: null,
        })),
      },
    )
  }
}
