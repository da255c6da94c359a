import express, { type Router } from "express"
import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { chosen, idempotencyKey, isLocalPath } from "../web/fields.ts"
import { formPost, idParam } from "../web/forms.ts"
import { LARGEST_PHOTO } from "./only-the-picture.ts"
import { addPhoto, keepPhoto, photoById } from "./photos.ts"

const PhotoForm = z.object({
  key: idempotencyKey,
  photo: chosen("The photo"),
  returnTo: z.preprocess((raw) => (isLocalPath(raw) ? raw : null), z.string().nullable()),
})

/** Photos of labels: sent as a picture and nothing else, shown as a picture and nothing else. */
export function photoRoutes(router: Router, studio: Studio): void {
  router.post(
    "/receive/photos",
    // one byte more, so that the sentence about the size is ours
    express.raw({ type: ["image/jpeg", "image/png", "image/webp"], limit: LARGEST_PHOTO + 1 }),
    (req, res) => {
      if (!Buffer.isBuffer(req.body))
        throw new Refusal("A photo is needed: JPEG, PNG or WebP.", { field: "photo" })
      res.json(keepPhoto(studio, req.body))
    },
  )
  router.get("/photos/:id", (req, res) => {
    const { type, bytes } = photoById(studio, idParam(req))
    res.setHeader("Content-Security-Policy", "default-src 'none'; sandbox")
    res.setHeader("Content-Disposition", "inline")
    // a photo never changes
    res.setHeader("Cache-Control", "private, max-age=86400")
    res.type(type).send(bytes)
  })
  formPost(router, {
    path: "/lots/:id/photo",
    form: PhotoForm,
    save: (form, req, res) => {
      const lotId = idParam(req)
      const done = addPhoto(studio, by(res, form.key), { lotId, photoId: form.photo })
      res.saved(`${done.summary}.`, { to: form.returnTo ?? `/lots/${lotId}`, undo: done.actionId })
    },
  })
}
