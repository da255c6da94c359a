import { randomUUID } from "node:crypto"
import { copyFileSync, mkdirSync, readdirSync, renameSync, rmSync, statSync } from "node:fs"
import { basename, dirname, join } from "node:path"
import { Temporal } from "temporal-polyfill"
import { inspectCopy, writeCopy } from "../../db/copies.ts"
import { connect, connectToRead, type StudioFile } from "../../db/file.ts"
import { openStudioFile, renewTriggers } from "../../db/migrate.ts"
import { FileProblem, problemOf, SpoiledFile } from "../../db/problems.ts"
import { copiesKept } from "../domain/copies-kept.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { verify } from "../verify/service.ts"

/** Why a copy was made: each night, because someone asked, or because another was about to be put in its place. */
export const COPY_KINDS = ["nightly", "asked", "before-restore"] as const
export type CopyKind = (typeof COPY_KINDS)[number]

/** A copy of the studio's file that was opened and found sound when it was made. */
export interface Copy {
  /** its file name, which also says when and why */
  name: string
  madeAt: string
  kind: CopyKind
  bytes: number
}

/** The folder a studio lives in, its open file, and the copies beside it. */
export interface House {
  readonly studio: Studio
  copies(): Copy[]
  /** Makes a copy now. Nightly ones that are older than the rule keeps go away. */
  makeCopy(kind: CopyKind): Promise<Copy>
  /** Where a copy of that name stands. @throws {Refusal} 404 when there is none */
  pathOf(name: string): string
  /**
   * Puts a file in the place of the studio's own, which is kept as a copy first.
   *
   * @param path a copy, or a file from elsewhere; it is looked over, never changed
   * @throws {Refusal} what is wrong with it; then nothing has changed
   */
  putBack(path: string): Promise<{ kept: Copy }>
  /** A second connection that only reads, for long work beside the daily one. The caller closes it. */
  readAlongside(): StudioFile
  close(): void
}

const NAME = /^lotcup-(\d{4}-\d{2}-\d{2})T(\d{2})(\d{2})(\d{2})(\d{3})Z-(nightly|asked|before-restore)\.db$/

/**
 * Opens the studio in a folder: `studio.db`, with its copies in `copies/`.
 *
 * @throws {FileProblem} see `openStudioFile`; of a spoiled file with copies beside it, how to go on from one
 */
export function openHouse(folder: string, now: () => Temporal.Instant = () => Temporal.Now.instant()): House {
  const path = join(folder, "studio.db")
  const copiesFolder = join(folder, "copies")
  let file = openOwn(path, copiesFolder)
  let isBusy = false
  const studio: Studio = {
    get file() {
      return file
    },
    now,
  }

  /** One at a time: a copy of a file that is being exchanged would be of neither. */
  const alone = async <Result>(work: () => Promise<Result>): Promise<Result> => {
    if (isBusy)
      throw new Refusal("A copy is being made or put back right now. Try again in a moment.", { status: 409 })
    isBusy = true
    try {
      return await work()
    } finally {
      isBusy = false
    }
  }
  const write = async (kind: CopyKind): Promise<Copy> => {
    mkdirSync(copiesFolder, { recursive: true })
    const name = `lotcup-${now().toString({ smallestUnit: "millisecond" }).replace(/[:.]/g, "")}-${kind}.db`
    await writeCopy(file, join(copiesFolder, name))
    return copyNamed(copiesFolder, name) as Copy
  }

  const house: House = {
    studio,
    copies: () => copiesIn(copiesFolder),
    makeCopy: (kind) =>
      alone(async () => {
        const made = await write(kind)
        if (kind === "nightly") tidyUp(copiesFolder, todayOf(studio))
        return made
      }),
    pathOf: (name) => {
      if (copyNamed(copiesFolder, name) === null) throw new Refusal("There is no such copy.", { status: 404 })
      return join(copiesFolder, name)
    },
    putBack: (from) =>
      alone(async () => {
        const staged = stage(from, folder)
        try {
          const kept = await write("before-restore")
          file.close()
          exchange(staged, path)
          file = openStudioFile(path)
          return { kept }
        } finally {
          removeWhole(staged)
        }
      }),
    readAlongside: () => connectToRead(path),
    close: () => file.close(),
  }
  return house
}

/** A studio that lives in memory only, as in a test: it has no folder for copies. */
export function houseInMemory(studio: Studio): House {
  const refuse = () => {
    throw new Refusal("This book is in memory only; there is no folder for copies.", { status: 409 })
  }
  return {
    studio,
    copies: () => [],
    makeCopy: async () => refuse(),
    pathOf: () => refuse(),
    putBack: async () => refuse(),
    readAlongside: () => refuse(),
    close: () => studio.file.close(),
  }
}

/** A private copy of the file, looked over, brought up to date, given our own triggers and verified. */
function stage(from: string, folder: string): string {
  try {
    return stageSound(from, folder)
  } catch (error) {
    // about the file that was offered, not about the studio's own
    if (error instanceof FileProblem) throw new Refusal(error.message, { status: 422, cause: error })
    throw error
  }
}

function stageSound(from: string, folder: string): string {
  inspectCopy(from)
  const staged = join(folder, `restore-${randomUUID()}.db`)
  copyFileSync(from, staged)
  let opened: StudioFile | null = null
  try {
    opened = connect(staged)
    renewTriggersIfCurrent(opened)
    opened.close()
    opened = openStudioFile(staged)
    const [first] = verify(opened)
    if (first) {
      throw new FileProblem(
        `That copy does not agree with itself (${first.rule}: ${first.where}). It is not put back.`,
      )
    }
    opened.runText("PRAGMA wal_checkpoint(TRUNCATE)")
    opened.close()
    return staged
  } catch (error) {
    opened?.close()
    removeWhole(staged)
    throw problemOf(error, from)
  }
}

/** An older file gets its triggers from the migration; one that is up to date has whatever it came with. */
function renewTriggersIfCurrent(file: StudioFile): void {
  try {
    renewTriggers(file)
  } catch {
    // older: our triggers speak of tables it does not have yet, and the migration drops those it has
  }
}

function exchange(staged: string, path: string): void {
  for (const more of ["-wal", "-shm"]) rmSync(path + more, { force: true })
  renameSync(staged, path)
}

/** A file with all that stands beside it: its journal, the copy a migration keeps. */
function removeWhole(path: string): void {
  const [folder, name] = [dirname(path), basename(path)]
  for (const entry of readdirSync(folder))
    if (entry.startsWith(name)) rmSync(join(folder, entry), { force: true })
}

function copiesIn(folder: string): Copy[] {
  try {
    return readdirSync(folder)
      .flatMap((name) => copyNamed(folder, name) ?? [])
      .sort((a, b) => (a.madeAt < b.madeAt ? 1 : -1))
  } catch {
    // no copy was made yet
    return []
  }
}

function openOwn(path: string, copiesFolder: string): StudioFile {
  try {
    return openStudioFile(path)
  } catch (error) {
    if (!(error instanceof SpoiledFile) || copiesIn(copiesFolder).length === 0) throw error
    throw new FileProblem(
      `${path} is damaged or no Lotcup file. Move it away, start Lotcup again, and put the newest of your copies back under Set up, Copies of your data.`,
      { cause: error },
    )
  }
}

function copyNamed(folder: string, name: string): Copy | null {
  const found = NAME.exec(name)
  if (!found) return null
  const [, day, hour, minute, second, milli, kind] = found
  try {
    return {
      name,
      madeAt: `${day}T${hour}:${minute}:${second}.${milli}Z`,
      kind: COPY_KINDS.find((one) => one === kind) ?? "asked",
      bytes: statSync(join(folder, name)).size,
    }
  } catch {
    return null
  }
}

function tidyUp(folder: string, today: IsoDate): void {
  const nightly = copiesIn(folder).filter((copy) => copy.kind === "nightly")
  const kept = copiesKept(
    nightly.map((copy) => copy.madeAt.slice(0, 10)),
    today,
  )
  const seen = new Set<IsoDate>()
  // the newest first: of a day's copies the newest is kept
  for (const copy of nightly) {
    const day = copy.madeAt.slice(0, 10)
    if (!kept.has(day) || seen.has(day)) rmSync(join(folder, copy.name), { force: true })
    seen.add(day)
  }
}
