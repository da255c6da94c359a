import { Sightings } from "../../client/scan/sightings.ts"
import type { Answer } from "../browser/support/reader-entry.ts"
import { openReaderPage, type ReaderPage } from "../browser/support/reader-page.ts"
import { type Chance, chance } from "../support/chance.ts"
import { type Line, median } from "./measure.ts"
import { BLANKS } from "./reading/blanks.ts"
import { KINDS, type Sample } from "./reading/codes.ts"
import { CONDITIONS } from "./reading/conditions.ts"
import { draw, takePicture } from "./reading/scene.ts"

/**
 * The looks were chosen on pictures of seeds below this one (`TUNED_BELOW`): what is told here is of others.
 * Pictures of each symbology in each condition, and of each blank.
 */
const TUNED_BELOW = 1000
const SEED = TUNED_BELOW + 1
const EACH = 2
const BLANKS_EACH = 6
/** How many frames a person holds still for. */
const FRAMES = 8

const WAYS = ["first", "second", "photo", "frames"] as const
type Way = (typeof WAYS)[number]
const TITLES: Record<Way, string> = {
  first: "@zxing/browser alone",
  second: "zxing-wasm alone, plain",
  photo: "combined, a photo",
  frames: `combined, ${FRAMES} frames`,
}

interface Tally {
  pictures: number
  right: Record<Way, number>
}

/**
 * How many codes each engine reads alone, and all together, in Chromium: by symbology and by condition, with what
 * was read wrong and the time a picture takes. Printed as tables; returned are the times.
 */
export async function reading(): Promise<Line[]> {
  const bench = await openReaderPage()
  const bySymbology = new Map<string, Tally>()
  const byCondition = new Map<string, Tally>()
  const wrong: string[] = []
  const ms: Record<Way, number[]> = { first: [], second: [], photo: [], frames: [] }
  try {
    // the first of everything is slower
    await bench.read(await picture(0, 0, 0), "photo")
    for (const [nth, kind] of KINDS.entries())
      for (const [at, condition] of CONDITIONS.entries())
        for (let one = 0; one < EACH; one++) {
          const random = randomFor(nth, at, one)
          const sample = kind.sample(random)
          const taken = await takePicture(await draw(sample), condition.scene, random)
          const rows = [tallyOf(bySymbology, kind.name), tallyOf(byCondition, condition.name)]
          for (const row of rows) row.pictures++
          for (const way of WAYS) {
            const { codes, times } = await readIn(bench, taken, way)
            ms[way].push(...times)
            const right = codes.includes(nameOf(sample.reads))
            if (right) for (const row of rows) row.right[way]++
            for (const code of codes)
              if (code !== nameOf(sample.reads))
                wrong.push(`${TITLES[way]}: ${code} from ${nameOf(sample.reads)}, ${condition.name}`)
          }
        }
    let blanks = 0
    for (const [nth, blank] of BLANKS.entries())
      for (let one = 0; one < BLANKS_EACH; one++) {
        const random = randomFor(100 + nth, one, 0)
        const condition = CONDITIONS[(2 * one + nth) % CONDITIONS.length]!
        const taken = await takePicture(await blank.label(random), condition.scene, random)
        blanks++
        for (const way of WAYS)
          for (const code of (await readIn(bench, taken, way)).codes)
            wrong.push(`${TITLES[way]}: ${code} from ${blank.name}, ${condition.name}`)
      }
    print("symbology", bySymbology)
    print("condition", byCondition)
    console.log(`read wrong, also in ${blanks} pictures without a code:`)
    for (const way of WAYS) {
      const own = wrong.filter((line) => line.startsWith(`${TITLES[way]}:`))
      console.log(`  ${TITLES[way].padEnd(24)} ${own.length}`)
      for (const line of own) console.log(`    ${line.slice(TITLES[way].length + 2)}`)
    }
    return WAYS.flatMap((way) => [
      time(`${TITLES[way]}, ms a picture, median`, median(ms[way]), median(ms.second), AIMS[way].median),
      time(`${TITLES[way]}, ms a picture, p95`, p95(ms[way]), p95(ms.second), AIMS[way].p95),
    ])
  } finally {
    await bench.close()
  }
}

/** ms: a frame may take its patience and one last look; a photo without a code gets all there is. */
const AIMS: Record<Way, { median: number; p95: number }> = {
  first: { median: 200, p95: 500 },
  second: { median: 50, p95: 150 },
  photo: { median: 100, p95: 6500 },
  frames: { median: 150, p95: 400 },
}

function time(name: string, value: number, floor: number, aim: number): Line {
  return { name, value, unit: "ms", floor, aim: { value: aim } }
}

function p95(values: readonly number[]): number {
  return values.toSorted((a, b) => a - b)[Math.floor(values.length * 0.95)]!
}

function randomFor(kind: number, condition: number, one: number): Chance {
  return chance(SEED * 1_000_003 + kind * 7_919 + condition * 104_729 + one * 15_485_863)
}

async function picture(kind: number, condition: number, one: number): Promise<Buffer> {
  const random = randomFor(kind, condition, one)
  return takePicture(await draw(KINDS[kind]!.sample(random)), CONDITIONS[condition]!.scene, random)
}

function nameOf({ symbology, code }: Pick<Sample["reads"], "code"> & { symbology: string }): string {
  return `${symbology} ${code}`
}

async function readIn(
  page: ReaderPage,
  taken: Buffer,
  way: Way,
): Promise<{ codes: string[]; times: number[] }> {
  const read = async (engine: "first" | "second" | "photo") => {
    const { scans, ms } = await page.read(taken, engine)
    return { codes: [...new Set(scans.map(nameOf))], times: [ms] }
  }
  switch (way) {
    case "first":
    case "second":
    case "photo":
      return read(way)
    case "frames":
      return heldStill(page, taken)
  }
}

/** The same picture again and again, until the page would count a code. */
async function heldStill(page: ReaderPage, taken: Buffer): Promise<{ codes: string[]; times: number[] }> {
  const sightings = new Sightings()
  const times: number[] = []
  for (let frame = 0; frame < FRAMES; frame++) {
    const { scans, ms }: Answer = await page.read(taken, "frame")
    times.push(ms)
    const counted = scans.filter((scan) => sightings.counts(scan, frame * 150) !== null)
    if (counted.length > 0) return { codes: counted.map(nameOf), times }
  }
  return { codes: [], times }
}

function tallyOf(all: Map<string, Tally>, name: string): Tally {
  const tally = all.get(name) ?? { pictures: 0, right: { first: 0, second: 0, photo: 0, frames: 0 } }
  all.set(name, tally)
  return tally
}

function print(what: string, tallies: ReadonlyMap<string, Tally>): void {
  console.log(`read right, by ${what}`.padEnd(22) + WAYS.map((way) => TITLES[way].padStart(26)).join(""))
  for (const [name, { pictures, right }] of tallies) {
    const missed = right.photo < Math.max(right.first, right.second)
    const cells = WAYS.map((way) => `${right[way]} of ${pictures}`.padStart(26)).join("")
    console.log(name.padEnd(22) + cells + (missed ? "  MISSED: one engine alone reads more" : ""))
  }
  const sum = (way: Way) => [...tallies.values()].reduce((all, { right }) => all + right[way], 0)
  console.log(`${"all".padEnd(22)}${WAYS.map((way) => String(sum(way)).padStart(26)).join("")}\n`)
}
