import { createHash } from "node:crypto"
import { readFileSync } from "node:fs"
import { createRequire } from "node:module"
import express from "express"
import request from "supertest"
import { expect, test } from "vitest"
import { bundleAssets } from "../../server/web/assets.ts"
import { safeHeaders } from "../../server/web/guards.ts"

const assets = bundleAssets()
const app = express().use(safeHeaders(), assets.router)

test("the reader's thread is served with its machine code, kept for ever under a name of its content", async () => {
  const address = assets.url("scan/worker.js")
  expect(address).toMatch(/^\/assets\/worker\.[0-9A-Z]{8}\.js$/)
  const worker = await request(app).get(address).buffer(true)
  expect(worker.headers["content-type"]).toMatch(/^(?:text|application)\/javascript/)

  const [wasm] = /\/assets\/zxing_reader\.[0-9A-Z]{8}\.wasm/.exec(worker.text) ?? []
  const engine = await request(app)
    .get(wasm ?? "none")
    .buffer(true)
    .parse((res, done) => {
      const parts: Buffer[] = []
      res.on("data", (part: Buffer) => parts.push(part))
      res.on("end", () => done(null, Buffer.concat(parts)))
    })
  expect(engine.status).toBe(200)
  expect(engine.headers["content-type"]).toBe("application/wasm")
  expect(engine.headers["cache-control"]).toBe("public, max-age=31536000, immutable")
  // byte for byte what the package holds
  const own = createRequire(import.meta.url).resolve("zxing-wasm/reader/zxing_reader.wasm")
  const sum = (bytes: Buffer) => createHash("sha256").update(bytes).digest("hex")
  expect(sum(engine.body)).toBe(sum(readFileSync(own)))
})

test("pages are told where the thread is; it alone may run machine code, and no script made from text", async () => {
  const page = await request(app).get(assets.url("receive.js")).buffer(true)
  expect(page.text).toContain(assets.url("scan/worker.js"))
  expect(page.headers["content-security-policy"]).toContain("script-src 'self';")
  const worker = await request(app).get(assets.url("scan/worker.js"))
  const policy = worker.headers["content-security-policy"]
  expect(policy).toContain("script-src 'self' 'wasm-unsafe-eval';")
  expect(policy).toContain("default-src 'none';")
  expect(policy).not.toContain("'unsafe-eval'")
})
