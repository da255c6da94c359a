import type { Request, Router } from "express"
import { z } from "zod"
import { fieldUnit, parseAmount } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { idempotencyKey, isLocalPath, optionalText, orRefuse, text } from "../web/fields.ts"
import { codeParam, formPost, readQuery } from "../web/forms.ts"
import { containerPage } from "./container-page.ts"
import { lowNow } from "./low-words.ts"
import { containerByCode, moveContainer, onPlace, weighContainer } from "./service.ts"

const back = z.preprocess((raw) => (isLocalPath(raw) ? raw : null), z.string().nullable())
const Move = z.object({ key: idempotencyKey, returnTo: back, place: optionalText(60, "The place") })
const Weigh = z.object({ key: idempotencyKey, gross: text(30, "What the scale reads") })
const PlaceQuery = z.object({ name: text(40, "The place") })
const PutHere = z.object({ key: idempotencyKey, name: text(40, "The place"), code: text(60, "The code") })

/** Where a container stands and what it weighs. */
export function placeRoutes(router: Router, studio: Studio): void {
  const again = {
    view: "shelf/container",
    show: (req: Request, state: Parameters<typeof containerPage>[2]) =>
      containerPage(studio, codeParam(req), state),
  }
  formPost(
    router,
    {
      path: "/containers/:code/move",
      form: Move,
      save: (input, req, res) => {
        const { code } = containerByCode(studio, codeParam(req))
        const done = moveContainer(studio, by(res, input.key), { code, place: input.place })
        res.saved(`${done.summary}.`, { to: input.returnTo ?? `/containers/${code}`, undo: done.actionId })
      },
    },
    again,
  )
  formPost(
    router,
    {
      path: "/containers/:code/weigh",
      form: Weigh,
      save: (input, req, res) => {
        const container = containerByCode(studio, codeParam(req))
        const unit = fieldUnit("mg", settingsOf(studio).units)
        const grossMg = orRefuse(parseAmount(input.gross, "mg", unit), "gross").amount
        const done = weighContainer(studio, by(res, input.key), { code: container.code, grossMg })
        const also = lowNow(studio, container.supplyId)
        res.saved(`${done.summary}.`, { to: `/containers/${container.code}`, undo: done.actionId, also })
      },
    },
    again,
  )
  const place = {
    view: "shelf/place",
    show: (req: Request) => placePage(studio, readQuery(PlaceQuery, req).name),
  }
  router.get("/shelf/place", (req, res) => {
    res.page(place.view, place.show(req))
  })
  formPost(
    router,
    {
      path: "/shelf/place",
      form: PutHere,
      save: (input, _req, res) => {
        const { code } = containerByCode(studio, input.code)
        const done = moveContainer(studio, by(res, input.key), { code, place: input.name })
        const { place: name } = done.answer
        res.saved(`${done.summary}.`, {
          to: `/shelf/place?${new URLSearchParams({ name })}`,
          undo: done.actionId,
        })
      },
    },
    {
      view: place.view,
      show: (req) => placePage(studio, PlaceQuery.safeParse(req.body).data?.name ?? "Somewhere"),
    },
  )
}

function placePage(studio: Studio, name: string) {
  const there = onPlace(studio, name)
  return {
    title: name,
    lead:
      there.length === 0
        ? "Nothing stands here by the book."
        : `${there.length === 1 ? "One container stands" : `${there.length} containers stand`} here.`,
    back: { to: "/shelf", label: "Shelf" },
    name,
    there,
    label: `/labels?${new URLSearchParams({ place: name })}`,
  }
}
