import type { AddressInfo } from "node:net"
import { basename } from "node:path"
import { fileURLToPath } from "node:url"
import { buildSync } from "esbuild"
import express from "express"
import type { Page } from "playwright-core"
import { bundleAssets } from "../../../server/web/assets.ts"
import { letRunMachineCode, safeHeaders } from "../../../server/web/guards.ts"
import { launch } from "./launch.ts"
import type { Answer, Engine } from "./reader-entry.ts"

/** A page with every engine on it, under the same headers as any page of Lotcup. */
export interface ReaderPage {
  page: Page
  /** what was asked for elsewhere than here: nothing */
  elsewhere: readonly string[]
  /** @param picture PNG or JPEG */
  read(picture: Buffer, engine: Engine): Promise<Answer>
  close(): Promise<void>
}

const ENTRY = fileURLToPath(new URL("reader-entry.ts", import.meta.url))

/** Opens it in a browser of its own. */
export async function openReaderPage(): Promise<ReaderPage> {
  const assets = bundleAssets()
  const built = buildSync({
    entryPoints: [ENTRY],
    outdir: "/assets",
    publicPath: "/assets",
    assetNames: "[name].[hash]",
    loader: { ".wasm": "file" },
    define: { READER_WORKER: JSON.stringify(assets.url("scan/worker.js")) },
    bundle: true,
    format: "esm",
    target: "es2022",
    write: false,
  })
  const pictures = new Map<string, Buffer>()
  const app = express().use(safeHeaders(), assets.router)
  app.get("/", (_req, res) => {
    // no page of Lotcup may: here the second engine is tried on the page too
    letRunMachineCode(res)
    res.type("html").send(`<script type="module" src="/assets/reader-entry.js"></script>`)
  })
  app.get("/assets/:file", (req, res, next) => {
    const file = built.outputFiles.find(({ path }) => basename(path) === req.params.file)
    if (file === undefined) return next()
    res.type(req.params.file).send(Buffer.from(file.contents))
  })
  app.get("/pictures/:name", (req, res) => {
    res.type("image/png").send(pictures.get(req.params.name))
  })
  const server = app.listen(0, "127.0.0.1")
  await new Promise((resolve) => server.once("listening", resolve))
  const origin = `http://127.0.0.1:${(server.address() as AddressInfo).port}`

  const browser = await launch()
  const page = await browser.newPage()
  const elsewhere: string[] = []
  page.context().on("request", (request) => {
    if (!request.url().startsWith(`${origin}/`)) elsewhere.push(request.url())
  })
  await page.goto(origin)
  await page.waitForFunction(() => "read" in window)
  let count = 0
  return {
    page,
    elsewhere,
    read: async (picture, engine) => {
      const name = String(++count)
      pictures.set(name, picture)
      try {
        return await page.evaluate(
          ([address, which]) =>
            (window as unknown as { read(a: string, e: string): Promise<Answer> }).read(address!, which!),
          [`/pictures/${name}`, engine] as const,
        )
      } finally {
        pictures.delete(name)
      }
    },
    close: async () => {
      await browser.close()
      await new Promise((resolve) => server.close(resolve))
    },
  }
}
