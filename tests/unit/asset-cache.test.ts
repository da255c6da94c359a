import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { afterEach, beforeEach, expect, test } from "vitest"
import { keptBundle } from "../../server/web/asset-cache.ts"
import type { Bundled } from "../../server/web/assets.ts"

let folder: string
let client: string
let cache: string
let bundled: number
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "lotcup-bundle-"))
  client = join(folder, "client")
  cache = join(folder, "cache")
  mkdirSync(join(client, "parts"), { recursive: true })
  writeFileSync(join(client, "page.ts"), "one")
  writeFileSync(join(client, "parts", "helper.ts"), "two")
  bundled = 0
})
afterEach(() => rmSync(folder, { recursive: true }))

const made = (): Bundled[] => {
  bundled += 1
  return [{ file: `page.${bundled}.js`, entry: "page.ts", body: Buffer.from([0, 255, bundled]) }]
}
const kept = () => keptBundle(client, made, cache)

test("what was bundled from the same files is taken as it was kept, to the byte", () => {
  const first = kept()
  expect(kept()).toEqual(first)
  expect(bundled).toBe(1)
})

test.each([
  ["a file of it", "page.ts"],
  ["a file that others share, in a folder", "parts/helper.ts"],
  ["a new file", "parts/more.ts"],
])("%s changes: it is bundled anew, and what was kept before goes", (_what, file) => {
  kept()
  writeFileSync(join(client, file), "changed")
  expect(kept()[0]!.file).toBe("page.2.js")
  expect(readdirSync(cache)).toHaveLength(1)
})

test("what is damaged is bundled anew", () => {
  kept()
  writeFileSync(join(cache, readdirSync(cache)[0]!), "half of it")
  expect(kept()[0]!.file).toBe("page.2.js")
  expect(kept()[0]!.file).toBe("page.2.js")
})

test("where nothing can be kept it is bundled each time", () => {
  writeFileSync(cache, "a file stands where the folder would")
  kept()
  expect(kept()[0]!.file).toBe("page.2.js")
})
