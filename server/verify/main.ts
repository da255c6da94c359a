import { join, resolve } from "node:path"
import { fileURLToPath } from "node:url"
import { parseArgs } from "node:util"
import { connectToRead, type StudioFile } from "../../db/file.ts"
import { SCHEMA_VERSION } from "../../db/migrate.ts"
import { FileProblem, problemOf } from "../../db/problems.ts"
import { sizeOf, verify } from "./service.ts"

const HERE = fileURLToPath(new URL("../..", import.meta.url))
/** A broken rule can break a thousand times; the first few say where to look. */
const MOST_SHOWN = 20

// `npm run verify -- [--data FOLDER]`: status 0 when all is well, 1 when not
try {
  check(pathAsked())
} catch (error) {
  if (!(error instanceof FileProblem)) throw error
  console.error(error.message)
  process.exitCode = 1
}

/** @throws {FileProblem} how it is run */
function pathAsked(): string {
  try {
    const { values } = parseArgs({ options: { data: { type: "string" } } })
    return join(resolve(values.data ?? join(HERE, "data")), "studio.db")
  } catch {
    throw new FileProblem("Run it as: npm run verify -- [--data FOLDER].")
  }
}

function check(path: string): void {
  try {
    report(connectToRead(path))
  } catch (error) {
    throw problemOf(error, path)
  }
}

function report(file: StudioFile): void {
  const version = file.firstText<{ user_version: number }>("PRAGMA user_version")?.user_version ?? 0
  if (version < SCHEMA_VERSION) {
    throw new FileProblem(
      `${file.path} is of an older version. Start Lotcup once, which brings it up to date, then verify.`,
    )
  }
  const found = verify(file)
  if (found.length === 0) {
    const { actions, movements, containers, cups } = sizeOf(file)
    console.log(
      `All well: ${actions} actions, ${movements} movements, ${containers} containers and ${cups} cups agree with every rule.`,
    )
  } else {
    for (const { rule, where, sentence } of found.slice(0, MOST_SHOWN))
      console.log(`${rule}: ${where}: ${sentence}`)
    if (found.length > MOST_SHOWN) console.log(`… and ${found.length - MOST_SHOWN} more.`)
    process.exitCode = 1
  }
  file.close()
}
