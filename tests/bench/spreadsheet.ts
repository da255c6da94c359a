import { execFileSync, spawnSync } from "node:child_process"
import { readFileSync, writeFileSync } from "node:fs"
import { join } from "node:path"
import { parse } from "csv-parse/sync"
import type { Shelved } from "../../server/domain/allocation.ts"
import { daysBetween, type IsoDate } from "../../server/domain/dates.ts"
import { forecast } from "../../server/domain/forecast.ts"
import { net, type Step } from "../../server/domain/netting.ts"
import { usableLeft } from "../../server/domain/sprays.ts"
import { inputOf, stateOf } from "../../server/forecast/state.ts"
import { busy, busyStudio } from "./busy-studio.ts"
import { median } from "./measure.ts"

/** LibreOffice's own command. */
const CALC = "soffice"

/** What is needed of a supply on a day. */
interface Need {
  on: IsoDate
  supplyId: number
  amount: number
}

/**
 * The netting of the busy studio's needs as a maker would do it otherwise: in a spreadsheet with a row for each supply
 * and day, what goes off first used first. LibreOffice works the sheet out, and its figures must be ours.
 *
 * What a sheet like this does not know is left out on both sides: kits, opened bottles, remnants, when what is expected
 * comes. It is given the days of the plan, which it could not work out either.
 */
export async function spreadsheet(folder: string): Promise<string[]> {
  const { orders, supplies, lots } = busy(1)
  const name = `spreadsheet netting ${orders} orders, ${supplies} supplies, ${lots} lots`
  const version = spawnSync(CALC, ["--version"], { encoding: "utf8" })
  if (version.status !== 0) return [`${name}: LibreOffice is not installed`]

  const studio = busyStudio(join(folder, "busy.db"), 1)
  const state = stateOf(studio, [])
  const { needs } = forecast(inputOf(state, true))
  const shelf = plainShelf(state.shelf)
  studio.file.close()
  const sorted = needs.toSorted((a, b) => a.supplyId - b.supplyId || (a.on < b.on ? -1 : 1))

  const sheet = join(folder, "netting.fods")
  writeFileSync(sheet, asSheet(state.today, sorted, shelf))
  const empty = join(folder, "empty.fods")
  writeFileSync(empty, asSheet(state.today, [], []))
  const profile = join(folder, "profile")
  recalculated(empty, folder, profile) // a new profile is filled the first time
  const bare = median([1, 2, 3].map(() => recalculated(empty, folder, profile)))
  const all = median([1, 2, 3].map(() => recalculated(sheet, folder, profile)))
  const ours = median(Array.from({ length: 15 }, () => timed(() => missingOf(state.today, sorted, shelf))))

  const theirs = read(join(folder, "netting.csv"))
  const here = missingOf(state.today, sorted, shelf)
  for (const { supplyId, on, amount } of sorted) {
    const key = keyOf(supplyId, daysBetween(state.today, on))
    const [found, expected] = [theirs.get(key), here.get(key) ?? 0]
    if (found !== expected)
      throw new Error(
        `Supply ${supplyId} on ${on} (${amount} needed): the sheet lacks ${found}, netting ${expected}.`,
      )
  }
  const short = [...here.values()].filter((missing) => missing > 0).length
  return [
    `${name}: ${sorted.length} rows, ${short} of them short; every figure is the same`,
    `  ${version.stdout.trim().split(" ").slice(0, 2).join(" ")}, wall time: ${seconds(all)} with loading, ${seconds(bare)} for an empty sheet`,
    `  netting of the same rows here: ${ours.toFixed(1)} ms; a whole forecast is the measure "forecast"`,
  ]
}

/** Sealed, of no kit, on no bench: what a sheet knows of a bottle is how much and until when. */
function plainShelf(shelf: readonly (Shelved & { keptBack?: number })[]): Shelved[] {
  return shelf
    .filter((one) => !one.held)
    .map(({ containerId, supplyId, amountLeft, keptBack, useBy }) => ({
      containerId,
      supplyId,
      amountLeft: usableLeft(amountLeft, keptBack ?? 0),
      useBy,
      openedOn: null,
      held: false,
      onBench: false,
      kitUnit: null,
    }))
}

/** By supply and day: what the allocator lacks. */
function missingOf(today: IsoDate, needs: readonly Need[], shelf: readonly Shelved[]): Map<string, number> {
  const steps = needs
    .map(
      ({ on, supplyId, amount }): Step<null> => ({
        owner: null,
        position: 0,
        on,
        need: { wants: [{ supplyId, amount, wholeCoat: 1 }], totals: new Map([[supplyId, amount]]) },
      }),
    )
    .sort((a, b) => (a.on < b.on ? -1 : a.on > b.on ? 1 : 0))
  const { shortfalls } = net(steps, shelf, [], () => null)
  return new Map(
    shortfalls.flatMap(({ supplyId, days }) =>
      days.map(({ on, missing }) => [keyOf(supplyId, daysBetween(today, on)), missing] as const),
    ),
  )
}

/**
 * One sheet. A to C: supply, day, what is needed. D: how much of the supply, taken in the order it goes off, is used up
 * or gone off before that day. E: what is there in all, so F is used and G missing. I to K: the lots.
 */
function asSheet(today: IsoDate, needs: readonly Need[], shelf: readonly Shelved[]): string {
  const last = Math.max(1, shelf.length)
  const amounts = `[.$K$1:.$K$${last}]`
  const ofSupply = (row: number) => `[.$I$1:.$I$${last}];[.A${row}]`
  const formulas = (row: number) => {
    const goneOff = `SUMIFS(${amounts};${ofSupply(row)};[.$J$1:.$J$${last}];&quot;&lt;&quot;&amp;[.B${row}])`
    const before =
      row === 1
        ? goneOff
        : `IF([.A${row}]=[.A${row - 1}];MAX([.D${row - 1}]+[.F${row - 1}];${goneOff});${goneOff})`
    return [
      before,
      `SUMIFS(${amounts};${ofSupply(row)})`,
      `MIN([.C${row}];MAX(0;[.E${row}]-[.D${row}]))`,
      `[.C${row}]-[.F${row}]`,
    ]
  }
  const rows = Array.from({ length: Math.max(needs.length, shelf.length) }, (_, n) => {
    const need = needs[n]
    const lot = shelf[n]
    const left = need
      ? [need.supplyId, daysBetween(today, need.on), need.amount].map(number).join("") +
        formulas(n + 1)
          .map((formula) => `<table:table-cell table:formula="of:=${formula}"/>`)
          .join("")
      : '<table:table-cell table:number-columns-repeated="7"/>'
    const right = lot
      ? [lot.supplyId, lot.useBy === null ? FOR_EVER : daysBetween(today, lot.useBy), lot.amountLeft]
          .map(number)
          .join("")
      : ""
    return `<table:table-row>${left}<table:table-cell/>${right}</table:table-row>`
  })
  return `<?xml version="1.0" encoding="UTF-8"?>
<office:document xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2" office:version="1.2" office:mimetype="application/vnd.oasis.opendocument.spreadsheet"><office:body><office:spreadsheet><table:table table:name="Netting">${rows.join("\n")}</table:table></office:spreadsheet></office:body></office:document>`
}

const FOR_EVER = 1_000_000

function number(value: number): string {
  return `<table:table-cell office:value-type="float" office:value="${value}"/>`
}

/** @returns wall time in ms; the CSV lies beside the sheet */
function recalculated(sheet: string, folder: string, profile: string): number {
  return timed(() =>
    execFileSync(
      CALC,
      [
        `-env:UserInstallation=file://${profile}`,
        "--headless",
        "--convert-to",
        "csv",
        "--outdir",
        folder,
        sheet,
      ],
      { stdio: "ignore", timeout: 300_000 },
    ),
  )
}

/** By supply and day: what the sheet says is missing. */
function read(path: string): Map<string, number> {
  const rows = parse(readFileSync(path, "utf8"), { relax_column_count: true }) as string[][]
  return new Map(
    rows.filter((row) => row[0] !== "").map((row) => [keyOf(Number(row[0]), Number(row[1])), Number(row[6])]),
  )
}

function keyOf(supplyId: number, day: number): string {
  return `${supplyId} ${day}`
}

function timed(work: () => void): number {
  const start = performance.now()
  work()
  return performance.now() - start
}

function seconds(ms: number): string {
  return `${(ms / 1000).toFixed(1)} s`
}
