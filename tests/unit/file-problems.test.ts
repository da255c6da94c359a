import { spawn } from "node:child_process"
import { createHash } from "node:crypto"
import {
  chmodSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  truncateSync,
  writeFileSync,
} from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { fileURLToPath } from "node:url"
import Database from "better-sqlite3"
import { afterEach, beforeEach, describe, expect, test } from "vitest"
import { openStudioFile, SCHEMA_VERSION } from "../../db/migrate.ts"
import { FileProblem } from "../../db/problems.ts"

let folder: string
let path: string
const afterwards: (() => void)[] = []
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "lotcup-file-"))
  path = join(folder, "studio.db")
})
afterEach(() => {
  for (const put of afterwards.splice(0).reverse()) put()
  rmSync(folder, { recursive: true })
})

/** A studio's file as it is after a day's work. */
function ownFile(): void {
  const file = openStudioFile(path)
  file.insert("maker", { name: "Resin works" })
  file.close()
}

/** Something SQLite made, by another program's hand. */
function sqlite(statements: string): void {
  const db = new Database(path)
  db.exec(statements)
  db.close()
}

/** Held by another program that is in the middle of writing. */
function locked(): void {
  ownFile()
  const other = new Database(path)
  other.exec("BEGIN EXCLUSIVE")
  afterwards.push(() => other.close())
}

const PROBLEMS: [what: string, make: () => void, sentence: RegExp][] = [
  [
    "written by a newer program",
    () => {
      ownFile()
      sqlite(`PRAGMA user_version = ${SCHEMA_VERSION + 1}`)
    },
    /written by a newer Lotcup/,
  ],
  [
    "another program's database",
    () => sqlite("CREATE TABLE songs (name TEXT)"),
    /another program's database/,
  ],
  [
    "another program's database with a version of its own",
    () => sqlite("CREATE TABLE songs (name TEXT); PRAGMA user_version = 400; PRAGMA application_id = 7"),
    /another program's database/,
  ],
  [
    "another program's database without a table",
    () => sqlite("PRAGMA application_id = 7"),
    /another program's database/,
  ],
  ["no database", () => writeFileSync(path, "Dear diary, ".repeat(500)), /not a Lotcup file/],
  ["no database, and short", () => writeFileSync(path, "Dear diary"), /not a Lotcup file/],
  [
    "cut off in the middle",
    () => {
      ownFile()
      truncateSync(path, 8 * 4096)
    },
    /is damaged/,
  ],
  [
    "cut off within its first page",
    () => {
      ownFile()
      truncateSync(path, 700)
    },
    /is damaged|not a Lotcup file/,
  ],
  ["a folder", () => mkdirSync(path), /cannot be opened/],
]

describe("a file that cannot be used is told in one sentence and left as it was:", () => {
  test.each(PROBLEMS)("%s", (_what, make, sentence) => {
    make()
    refused(sentence)
  })

  test("in use by another program", () => {
    locked()
    refused(/is in use by another program/)
  })

  test("no permission to write it", () => {
    ownFile()
    chmodSync(path, 0o444)
    chmodSync(folder, 0o777)
    asOneself(() => refused(/cannot be written to/))
  })

  test("no permission to write in its folder", () => {
    ownFile()
    chmodSync(folder, 0o555)
    afterwards.push(() => chmodSync(folder, 0o755))
    asOneself(() => refused(/cannot be (opened|written to)/))
  })

  test("its folder is not there", () => {
    path = join(folder, "elsewhere", "studio.db")
    expect(() => openStudioFile(path)).toThrow(/The folder of .* does not exist/)
    expect(readdirSync(folder)).toEqual([])
  })
})

describe("the program started on such a file says that one sentence and stops with status 1:", () => {
  test.each<[string, () => void, RegExp]>([
    PROBLEMS[0]!,
    PROBLEMS[1]!,
    PROBLEMS[4]!,
    ["in use", locked, /is in use/],
  ])("%s", async (_what, make, sentence) => {
    make()
    const before = everything()
    const { status, out, err } = await started(["--data", folder, "--port", "0"])
    expect({ status, out }).toEqual({ status: 1, out: "" })
    expectOneSentence(err.trimEnd(), sentence)
    expect(everything()).toEqual(before)
  })

  test("destroyed, with copies beside it: how to go on from one", async () => {
    writeFileSync(path, "Dear diary, ".repeat(500))
    mkdirSync(join(folder, "copies"))
    writeFileSync(join(folder, "copies", "lotcup-2026-11-28T155035061Z-asked.db"), "")
    const { status, err } = await started(["--data", folder, "--port", "0"])
    expect(status).toBe(1)
    expectOneSentence(
      err.trimEnd(),
      /Move it away, start Lotcup again, and put the newest of your copies back/,
    )
  })

  test.each<[string, () => void, RegExp]>([PROBLEMS[4]!, PROBLEMS[6]!])(
    "asked whether all is well: %s",
    async (_what, make, sentence) => {
      make()
      const { status, out, err } = await started(["--data", folder], "server/verify/main.ts")
      expect({ status, out }).toEqual({ status: 1, out: "" })
      expectOneSentence(err.trimEnd(), sentence)
    },
  )

  test("where a folder should be stands a file", async () => {
    writeFileSync(path, "Dear diary")
    const { status, out, err } = await started(["--data", path, "--port", "0"])
    expect({ status, out }).toEqual({ status: 1, out: "" })
    expectOneSentence(err.trimEnd(), /The folder .* cannot be made/)
  })
})

function refused(sentence: RegExp): void {
  const before = everything()
  let problem: unknown
  try {
    openStudioFile(path).close()
  } catch (error) {
    problem = error
  }
  expect(problem).toBeInstanceOf(FileProblem)
  expectOneSentence((problem as FileProblem).message, sentence)
  expect(everything()).toEqual(before)
}

/** What is wrong, then perhaps what to do; on one line, and nothing of the program's insides. */
function expectOneSentence(message: string, sentence: RegExp): void {
  expect(message).toMatch(sentence)
  expect(message).toMatch(/^[^\n]{20,300}\.$/)
  expect(message.replaceAll(folder, "")).not.toMatch(/SQLITE|Error|\bat .*:\d+/)
}

/** Each file of the folder by its fingerprint; not the index of the journal, which is memory shared and no content. */
function everything(): Record<string, string> {
  const names = readdirSync(folder).filter((name) => !name.endsWith("-shm") && !isEmptyJournal(name))
  const fingerprint = (name: string) =>
    statSync(join(folder, name)).isDirectory()
      ? "a folder"
      : createHash("sha256")
          .update(readFileSync(join(folder, name)))
          .digest("hex")
  return Object.fromEntries(names.sort().map((name) => [name, fingerprint(name)]))
}

/** Who may only read a file cannot take away the empty journal that reading it made. */
function isEmptyJournal(name: string): boolean {
  return name.endsWith("-wal") && statSync(join(folder, name)).size === 0
}

/** Permissions do not stop the administrator: where the tests run as one, it is tried in another user's name. */
function asOneself(work: () => void): void {
  const isAdministrator = process.geteuid?.() === 0
  if (isAdministrator) process.seteuid?.(65_534)
  try {
    work()
  } finally {
    if (isAdministrator) process.seteuid?.(0)
  }
}

function started(
  args: string[],
  program = "server/main.ts",
): Promise<{ status: number | null; out: string; err: string }> {
  const main = fileURLToPath(new URL(`../../${program}`, import.meta.url))
  const child = spawn(process.execPath, ["--import", "tsx", main, ...args])
  let [out, err] = ["", ""]
  child.stdout.on("data", (text) => {
    out += text
  })
  child.stderr.on("data", (text) => {
    err += text
  })
  return new Promise((resolve, reject) => {
    child.once("error", reject)
    child.once("close", (status) => resolve({ status, out, err }))
  })
}
