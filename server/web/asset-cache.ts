import { createHash, randomUUID } from "node:crypto"
import { mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs"
import { join } from "node:path"
import { fileURLToPath } from "node:url"
import { deserialize, serialize } from "node:v8"
import type { Bundled } from "./assets.ts"

const PROJECT = fileURLToPath(new URL("../../", import.meta.url))
/** Beside the packages it was bundled from: whoever may write here may write those too. */
const FOLDER = join(PROJECT, "node_modules", ".cache", "lotcup")
/** What decides how the browser's part is bundled, besides its own files. */
const MADE_WITH = ["package-lock.json", "server/web/assets.ts", "server/web/asset-cache.ts"]

/**
 * The browser's part as it was bundled before from the very same files, or bundled now and kept: that saves a third
 * of the time to start. Where nothing can be kept it is bundled each time.
 *
 * @param client the folder it is bundled from
 * @param folder where it is kept
 */
export function keptBundle(client: string, bundle: () => Bundled[], folder = FOLDER): Bundled[] {
  const path = join(folder, nameFor(client))
  const kept = read(path)
  if (kept) return kept
  const made = bundle()
  keep(folder, path, made)
  return made
}

function nameFor(client: string): string {
  const hash = createHash("sha256").update(process.version)
  const files = readdirSync(client, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name))
  for (const file of [...files.sort(), ...MADE_WITH.map((name) => join(PROJECT, name))])
    hash.update(`\0${file}\0`).update(readFileSync(file))
  return `client-${hash.digest("hex").slice(0, 32)}`
}

function read(path: string): Bundled[] | null {
  try {
    const kept = deserialize(readFileSync(path)) as Bundled[]
    return kept.map((one) => ({ ...one, body: Buffer.from(one.body) }))
  } catch {
    return null
  }
}

/** Whole or not at all, since another process may be reading; those of other files than these go. */
function keep(folder: string, path: string, made: readonly Bundled[]): void {
  try {
    mkdirSync(folder, { recursive: true })
    const writing = join(folder, randomUUID())
    writeFileSync(writing, serialize(made))
    for (const old of readdirSync(folder)) if (old.startsWith("client-")) rmSync(join(folder, old))
    renameSync(writing, path)
  } catch {
    // a disk that is full or may not be written to: it is bundled again next time
  }
}
