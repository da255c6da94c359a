import type { Request, Router } from "express"
import { z } from "zod"
import { sayDate } from "../domain/dates.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { idempotencyKey, isoDay, optionalText, orEmpty } from "../web/fields.ts"
import { formPage, idParam } from "../web/forms.ts"
import { bookedLot, correctLot, FIELD } from "./correct-lot.ts"
import { photosOf } from "./photos.ts"

const CorrectForm = z.object({
  key: idempotencyKey,
  [FIELD]: z.object({
    number: optionalText(80, "The lot number"),
    expires: orEmpty(isoDay("The expiry date")),
    made: orEmpty(isoDay("The made-on date", "first day")),
  }),
})

/** A lot number or date that was misread can be put right at any time. */
export function correctLotRoutes(router: Router, studio: Studio): void {
  formPage(router, {
    path: "/lots/:id/label",
    view: "receiving/lot-label",
    show: (req) => lotLabelPage(studio, req),
    form: CorrectForm,
    save: ({ key, lot }, req, res) => {
      const done = correctLot(studio, by(res, key), {
        lotId: idParam(req),
        number: lot.number === "" ? null : lot.number,
        madeOn: lot.made,
        expiresOn: lot.expires,
      })
      const { lotId, isRenamed } = done.answer
      const also = isRenamed ? ["Labels that were printed before still say the old number."] : []
      res.saved(`${done.summary}.`, { to: `/lots/${lotId}`, undo: done.actionId, also })
    },
  })
}

function lotLabelPage(studio: Studio, req: Request) {
  const lot = bookedLot(studio, idParam(req))
  const isWorkedOut = lot.expiryBasis === "shelf-life" && lot.bookedExpiry !== null
  return {
    title: `${lot.supply}: what the label says`,
    lead: "Was it misread? Put it right here: every bottle, coat and cup of this lot follows.",
    back: { to: `/lots/${lot.lotId}`, label: `Lot ${lot.number ?? "without a number"}` },
    lotId: lot.lotId,
    number: lot.number ?? "",
    expires: lot.expiresOn ?? "",
    made: lot.madeOn ?? "",
    workedOut: isWorkedOut ? sayDate(lot.bookedExpiry!, todayOf(studio)) : null,
    photos: photosOf(studio, [lot.lotId]),
    here: `/lots/${lot.lotId}/label`,
  }
}
