import express, { type Router } from "express"
import { z } from "zod"
import { sayDate } from "../domain/dates.ts"
import type { Actor, Done } from "../ledger/act.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { id, idempotencyKey, isLocalPath, oneOf, optionalText, orEmpty, text } from "../web/fields.ts"
import { codeParam, formPost, idParam, readQuery } from "../web/forms.ts"
import { qrSvg } from "../web/qr.ts"
import { containerPage } from "./container-page.ts"
import { lowNow } from "./low-words.ts"
import { placeRoutes } from "./place-routes.ts"
import { countFields, readAmount, readCount } from "./read-count.ts"
import { OTHER_REASON, readReason, WASTE_REASONS } from "./reasons.ts"
import {
  bench,
  containerByCode,
  countContainer,
  decant,
  hold,
  holdBoth,
  holdLot,
  openContainer,
  release,
  releaseLot,
  shelveOffcut,
  topUp,
  unbench,
  writeOff,
} from "./service.ts"
import { ShelfQuery, shelfPage } from "./shelf-page.ts"
import { throwOutRoutes } from "./throw-out-page.ts"
import { discardWords } from "./words.ts"

/** Where to go afterwards, when the form says so. */
const back = z.preprocess((raw) => (isLocalPath(raw) ? raw : null), z.string().nullable())
const Tap = z.object({
  key: idempotencyKey,
  returnTo: back,
  happenedAt: orEmpty(text(40, "When")),
  reason: optionalText(300, "Why"),
})
const amount = optionalText(40, "Amount")
const TopUp = z.object({ key: idempotencyKey, from: text(40, "From which"), amount })
const Decant = z.object({ key: idempotencyKey, amount })
const Count = z.object({ key: idempotencyKey, ...countFields })
const WriteOff = z.object({
  key: idempotencyKey,
  /** one of the reasons to tap, or "other": then `reason` says it in words */
  why: orEmpty(oneOf([...WASTE_REASONS.map((one) => one.word), OTHER_REASON], "Why it goes")),
  /** for a reason in words: how it left */
  kind: orEmpty(oneOf(["waste", "write-off"], "What happened")),
  amount,
  /** the button that says "half" where the keys of a phone cannot write it */
  share: optionalText(10, "Share"),
  reason: optionalText(300, "In words"),
})

/** The shelf, a container's own page, and everything done to one. */
export function shelfRoutes(studio: Studio): Router {
  const router = express.Router()

  router.get("/shelf", (req, res) => {
    res.page("shelf/shelf", shelfPage(studio, readQuery(ShelfQuery, req)))
  })
  router.get("/containers/:code", (req, res) => {
    const { code } = containerByCode(studio, codeParam(req))
    if (code !== codeParam(req)) return res.redirect(302, `/containers/${code}`)
    res.page("shelf/container", containerPage(studio, code, null))
  })
  router.get("/containers/:code/code.svg", (req, res) => {
    const { code } = containerByCode(studio, codeParam(req))
    // a code never changes its picture
    res.setHeader("Cache-Control", "private, max-age=86400")
    res.type("image/svg+xml").send(qrSvg(code, { border: 2, scale: 2 }))
  })

  oneTap(router, studio, "open", (by, code) => {
    const done = openContainer(studio, by, code)
    const { supply, useBy } = done.answer
    const until = useBy === null ? "" : ` Use it by ${sayDate(useBy, todayOf(studio))}.`
    return { done, sentence: `${code} is open: ${supply}.${until}` }
  })
  oneTap(router, studio, "bench", (by, code) => said(bench(studio, by, code)))
  oneTap(router, studio, "unbench", (by, code) => said(unbench(studio, by, code)))
  oneTap(router, studio, "hold", (by, code) => said(hold(studio, by, code)))
  oneTap(router, studio, "offcut", (by, code) => {
    const done = shelveOffcut(studio, by, code)
    const kept = done.answer.code
    return { done, sentence: `${done.summary}. Write ${kept} on it, or print its label.` }
  })
  oneTap(router, studio, "release", (by, code) => said(release(studio, by, code)))
  amountForms(router, studio)
  placeRoutes(router, studio)
  throwOutRoutes(router, studio)

  for (const [what, change] of [
    ["hold", holdLot],
    ["release", releaseLot],
  ] as const) {
    formPost(router, {
      path: `/lots/:id/${what}`,
      form: Tap,
      save: (input, req, res) => {
        const lotId = idParam(req)
        const done = change(studio, actorOf(res, input), lotId)
        res.saved(`${done.summary}.`, { to: input.returnTo ?? `/lots/${lotId}`, undo: done.actionId })
      },
    })
  }
  formPost(router, {
    path: "/lots/:id/hold-both",
    form: Tap.extend({ otherId: id }),
    save: (input, req, res) => {
      const lotId = idParam(req)
      const done = holdBoth(studio, actorOf(res, input), { lotId, otherId: input.otherId })
      res.saved(`${done.summary}.`, { to: input.returnTo ?? `/lots/${lotId}`, undo: done.actionId })
    },
  })
  return router
}

/** Forms that ask how much; refused, the container's page is shown again with what was typed. */
function amountForms(router: Router, studio: Studio): void {
  const again = {
    view: "shelf/container",
    show: (req: express.Request, state: Parameters<typeof containerPage>[2]) =>
      containerPage(studio, codeParam(req), state),
  }
  formPost(
    router,
    {
      path: "/containers/:code/top-up",
      form: TopUp,
      save: (input, req, res) => {
        const to = containerByCode(studio, codeParam(req))
        // a share is of what is poured from
        const from = containerByCode(studio, input.from)
        const pour = {
          fromCode: from.code,
          toCode: to.code,
          amount: readAmount(studio, from, input.amount),
        }
        const done = topUp(studio, actorOf(res, input), pour)
        res.saved(`${done.summary}.`, { to: `/containers/${to.code}`, undo: done.actionId })
      },
    },
    again,
  )
  formPost(
    router,
    {
      path: "/containers/:code/decant",
      form: Decant,
      save: (input, req, res) => {
        const from = containerByCode(studio, codeParam(req))
        const pour = { fromCode: from.code, amount: readAmount(studio, from, input.amount) }
        const done = decant(studio, actorOf(res, input), pour)
        const { code } = done.answer
        res.saved(`${done.summary}. Write ${code} on it, or print its code.`, {
          to: `/containers/${code}`,
          undo: done.actionId,
        })
      },
    },
    again,
  )
  formPost(
    router,
    {
      path: "/containers/:code/count",
      form: Count,
      save: (input, req, res) => {
        const container = containerByCode(studio, codeParam(req))
        const counted = { code: container.code, ...readCount(studio, container, input) }
        const done = countContainer(studio, actorOf(res, input), counted)
        const also = lowNow(studio, container.supplyId)
        res.saved(`${done.summary}.`, { to: `/containers/${container.code}`, undo: done.actionId, also })
      },
    },
    again,
  )
  formPost(
    router,
    {
      path: "/containers/:code/write-off",
      form: WriteOff,
      save: (input, req, res) => {
        const container = containerByCode(studio, codeParam(req))
        const off = {
          code: container.code,
          amount: readAmount(studio, container, input.share || input.amount),
          ...readReason(input),
        }
        const done = writeOff(studio, actorOf(res, input), off)
        const also = [...lowNow(studio, container.supplyId), ...discardWords(container)]
        res.saved(`${done.summary}.`, { to: `/containers/${container.code}`, undo: done.actionId, also })
      },
    },
    again,
  )
}

/** A form of one button on a container. */
function oneTap(
  router: Router,
  studio: Studio,
  what: string,
  change: (by: Actor, code: string) => { done: Done<unknown>; sentence: string },
): void {
  formPost(router, {
    path: `/containers/:code/${what}`,
    form: Tap,
    save: (input, req, res) => {
      const { code } = containerByCode(studio, codeParam(req))
      const { done, sentence } = change(actorOf(res, input), code)
      res.saved(sentence, { to: input.returnTo ?? `/containers/${code}`, undo: done.actionId })
    },
  })
}

function said(done: Done<unknown>): { done: Done<unknown>; sentence: string } {
  return { done, sentence: `${done.summary}.` }
}

function actorOf(
  res: express.Response,
  input: { key: string; happenedAt?: string | null; reason?: string },
): Actor {
  return {
    ...by(res, input.key),
    happenedAt: input.happenedAt ?? undefined,
    reason: input.reason,
  }
}
