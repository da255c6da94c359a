import { existsSync, readdirSync } from "node:fs"
import { createRequire } from "node:module"
import { basename, join } from "node:path"
import { fileURLToPath } from "node:url"
import type { BuildFailure } from "esbuild"
import express, { type Router } from "express"
import { keptBundle } from "./asset-cache.ts"
import { letRunMachineCode } from "./guards.ts"

/** The browser's part, bundled in memory: scripts, styles and pictures under names that carry their content. */
export interface Assets {
  /** `/assets/receive.4F2A91C0.js` for "receive.js". @throws when there is none */
  url: (name: string) => string
  router: Router
  buildMs: number
}

/** Runs in a thread of its own; with it comes the second engine, ZXing-C++, as it is (Apache License 2.0). */
const WORKER = "scan/worker.ts"
const WORKER_SCRIPT = "scan/worker.js"
const CLIENT = fileURLToPath(new URL("../../client/", import.meta.url))

/**
 * Bundles each `client/*.ts` (folders below it hold what they share) with `client/styles.css`, and before them the
 * reader's thread, whose address they are told.
 *
 * Runs once, blocking, at start: esbuild's process is gone when this returns. What was bundled from the very same
 * files before is taken as it was kept (`asset-cache.ts`).
 *
 * @throws {Error} one sentence with file and line when the code does not bundle
 */
export function bundleAssets(client = CLIENT): Assets {
  const began = performance.now()
  const byName = new Map<string, string>()
  const byPath = new Map<string, { type: string; body: Buffer }>()
  for (const { entry, file, body } of keptBundle(client, () => bundle(client))) {
    const url = addressOf(file)
    byPath.set(url, { type: file.slice(file.lastIndexOf(".") + 1), body })
    if (entry !== undefined) byName.set(entry.replace(/\.ts$/, ".js"), url)
  }

  const router = express.Router()
  router.get("/assets/:file", (req, res, next) => {
    const asset = byPath.get(req.path)
    if (asset === undefined) return next()
    if (req.path === byName.get(WORKER_SCRIPT)) letRunMachineCode(res)
    // the name changes with the content, so it may be kept for ever
    res.setHeader("Cache-Control", "public, max-age=31536000, immutable")
    res.type(asset.type).send(asset.body)
  })
  return {
    url: (name) => {
      const url = byName.get(name)
      if (url === undefined) throw new Error(`There is no asset ${name} in client/.`)
      return url
    },
    router,
    buildMs: performance.now() - began,
  }
}

/** A bundled file, and what it was made from, as `client/` calls it. */
export interface Bundled {
  file: string
  entry?: string | undefined
  body: Buffer
}

const addressOf = (file: string) => `/assets/${file}`

function bundle(client: string): Bundled[] {
  const entries = readdirSync(client)
    .filter((file) => /\.(ts|css|svg)$/.test(file) && !file.endsWith(".d.ts"))
    .map((file) => join(client, file))
  const worker = join(client, WORKER)
  const reader = existsSync(worker) ? build(client, [worker], {}) : []
  const script = reader.find(({ entry }) => entry === WORKER)
  const rest = build(client, entries, {
    READER_WORKER: JSON.stringify(script === undefined ? "" : addressOf(script.file)),
  })
  return [...reader, ...rest]
}

function build(client: string, entryPoints: string[], define: Record<string, string>): Bundled[] {
  // only where there is something to bundle
  const { buildSync } = createRequire(import.meta.url)("esbuild") as typeof import("esbuild")
  try {
    const built = buildSync({
      entryPoints,
      absWorkingDir: client,
      outdir: join(client, "out"),
      entryNames: "[name].[hash]",
      assetNames: "[name].[hash]",
      publicPath: "/assets",
      loader: { ".svg": "copy", ".wasm": "file" },
      define,
      bundle: true,
      format: "esm",
      target: "es2022",
      minify: true,
      sourcemap: false,
      legalComments: "none",
      metafile: true,
      write: false,
      logLevel: "silent",
    })
    const entryOf = new Map(
      Object.entries(built.metafile.outputs).map(([path, { entryPoint }]) => [basename(path), entryPoint]),
    )
    return built.outputFiles.map(({ path, contents }) => ({
      file: basename(path),
      body: Buffer.from(contents),
      entry: entryOf.get(basename(path)),
    }))
  } catch (error) {
    throw new Error(`The browser part could not be built: ${firstMessage(error)}`, { cause: error })
  }
}

function firstMessage(error: unknown): string {
  const first = (error as Partial<BuildFailure>).errors?.[0]
  if (first === undefined) return error instanceof Error ? error.message : String(error)
  const where = first.location === null ? "" : `client/${first.location.file}, line ${first.location.line}: `
  return `${where}${first.text}`
}
