import { readFileSync, rmSync } from "node:fs"
import { Readable } from "node:stream"
import { pipeline } from "node:stream/promises"
import express, { type Router } from "express"
import { z } from "zod"
import { WHICH_FILE } from "../../db/copies.ts"
import { Refusal } from "../domain/refusal.ts"
import { idempotencyKey, oneOf } from "../web/fields.ts"
import { codeParam, formPost, readQuery } from "../web/forms.ts"
import { receiveUpload } from "../web/upload.ts"
import { fileFromArchive } from "./archive-in.ts"
import { archiveOf } from "./archive-out.ts"
import type { Copy, House } from "./house.ts"

const JustKey = z.object({ key: idempotencyKey })
const LARGEST_UPLOAD = 1024 ** 3

const KIND_WORDS: Record<Copy["kind"], string> = {
  nightly: "each night",
  asked: "asked for",
  "before-restore": "before another was put back",
}

/** At the computer: copies of the studio's file, made, taken away and put back. */
export function copiesRoutes(house: House): Router {
  const router = express.Router()
  router.get("/setup/copies", (_req, res) => {
    const copies = house.copies()
    res.page("data/copies", {
      title: "Copies of your data",
      lead: leadOf(copies),
      back: { to: "/setup", label: "Set up" },
      whichFile: WHICH_FILE,
      copies: copies.map((copy) => ({ ...copy, why: KIND_WORDS[copy.kind], size: sizeWords(copy.bytes) })),
    })
  })
  formPost(router, {
    path: "/setup/copies",
    form: JustKey,
    save: async (_input, _req, res) => {
      const made = await house.makeCopy("asked")
      res.saved(`A copy is made and looked over: ${sizeWords(made.bytes)}.`, { to: "/setup/copies" })
    },
  })
  router.get("/setup/copies/:code/file", (req, res) => {
    const name = codeParam(req)
    res.download(house.pathOf(name), name)
  })
  router.get("/setup/copies/:code/put-back", (req, res) => {
    const copy = house.copies().find((one) => one.name === codeParam(req))
    if (!copy) throw new Refusal("There is no such copy.", { status: 404 })
    res.page("data/put-back", {
      title: "Put this copy back?",
      back: { to: "/setup/copies", label: "Copies" },
      copy: { ...copy, size: sizeWords(copy.bytes) },
    })
  })
  formPost(router, {
    path: "/setup/copies/:code/put-back",
    form: JustKey,
    save: async (_input, req, res) => {
      await house.putBack(house.pathOf(codeParam(req)))
      res.saved("The copy is put back. What was there before is kept as a copy too.", { to: "/setup/copies" })
    },
  })
  router.get("/setup/copies/tables.zip", async (req, res) => {
    const { for: what } = readQuery(
      z.object({ for: oneOf(["lotcup", "spreadsheet"], "For").default("lotcup") }),
      req,
    )
    const { studio } = house
    res.attachment(what === "spreadsheet" ? "lotcup-for-spreadsheets.zip" : "lotcup-tables.zip").type("zip")
    const file = house.readAlongside()
    try {
      await pipeline(
        Readable.from(archiveOf(file, studio.now().toString(), { forSpreadsheet: what === "spreadsheet" })),
        res,
      )
    } finally {
      file.close()
    }
  })
  // sent by the page's own code, as it is; nothing of it is believed before it was looked over
  router.post("/setup/copies/upload", async (req, res) => {
    const path = await receiveUpload(req, {
      bytes: LARGEST_UPLOAD,
      tooLarge: "That file is larger than any studio's. Choose another.",
      otherwise: WHICH_FILE,
    })
    const made = `${path}.made`
    try {
      const isArchive = readFileSync(path).subarray(0, 2).toString("latin1") === "PK"
      if (isArchive) fileFromArchive(readFileSync(path), made)
      await house.putBack(isArchive ? made : path)
    } finally {
      for (const one of [path, made])
        for (const more of ["", "-wal", "-shm"]) rmSync(one + more, { force: true })
    }
    res.saved("The file is put back. What was there before is kept as a copy too.", { to: "/setup/copies" })
  })
  return router
}

function leadOf(copies: readonly Copy[]): string {
  if (copies.length === 0) return "No copy was made yet. The first is made tonight, or now if you ask for it."
  return copies.length === 1 ? "One copy is kept." : `${copies.length} copies are kept.`
}

function sizeWords(bytes: number): string {
  return bytes < 1e6 ? `${Math.ceil(bytes / 1000)} kB` : `${(bytes / 1e6).toFixed(1)} MB`
}
