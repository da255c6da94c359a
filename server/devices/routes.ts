import express, { type Router } from "express"
import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { idempotencyKey, text } from "../web/fields.ts"
import { formPage, formPost, idParam } from "../web/forms.ts"
import { qrSvg } from "../web/qr.ts"
import { DEVICE_COOKIE } from "./guard.ts"
import type { PairingDesk } from "./pairing.ts"
import { devices, letIn, throwOut } from "./service.ts"

/** The second listener, as the pages need to know it. */
export interface Network {
  desk: PairingDesk
  /** null while Lotcup answers this computer alone */
  reach: () => { url: string; fingerprint: string } | null
}

const JustKey = z.object({ key: idempotencyKey })

/** At the computer: let phones in, see them, throw them out. */
export function phonesRoutes(studio: Studio, network: Network): Router {
  const router = express.Router()
  router.get("/setup/phones", (_req, res) => {
    const reach = network.reach()
    const code = reach === null ? null : network.desk.current(nowMs(studio))
    const known = devices(studio)
    res.page("devices/phones", {
      title: "Phones",
      lead: leadOf(reach !== null, known.length),
      back: { to: "/setup", label: "Set up" },
      reach,
      devices: known,
      code:
        reach === null || code === null
          ? null
          : {
              // said in two halves, so that it can be read out and typed
              spoken: `${code.code.slice(0, 5)} ${code.code.slice(5)}`,
              picture: qrSvg(`${reach.url}pair#${code.code}`, { border: 4, scale: 4 }),
              until: new Date(code.untilMs).toISOString(),
            },
    })
  })
  formPost(router, {
    path: "/setup/phones/code",
    form: JustKey,
    save: (_input, _req, res) => {
      if (network.reach() === null) {
        throw new Refusal("Phones cannot reach Lotcup yet. Stop it, and start it with: npm start -- --lan", {
          status: 409,
        })
      }
      network.desk.handOut(nowMs(studio))
      res.saved("Scan the picture with the phone, within ten minutes.", { to: "/setup/phones" })
    },
  })
  formPost(router, {
    path: "/setup/phones/:id/remove",
    form: JustKey,
    save: (_input, req, res) => {
      const device = throwOut(studio, idParam(req))
      res.saved(`${device.name} is not let in any more.`, { to: "/setup/phones" })
    },
  })
  return router
}

const PairForm = z.object({ code: text(40, "Code"), name: text(40, "Name of this phone") })

/** On the phone: the one page that is shown to a device not let in. It says nothing of the studio. */
export function pairRoutes(studio: Studio, desk: PairingDesk): Router {
  const router = express.Router()
  formPage(router, {
    path: "/pair",
    view: "devices/pair",
    show: () => ({ title: "Use Lotcup on this phone" }),
    form: PairForm,
    save: (input, _req, res) => {
      desk.take(input.code, nowMs(studio))
      const { token } = letIn(studio, input.name)
      res.cookie(DEVICE_COOKIE, token, {
        httpOnly: true,
        secure: true,
        sameSite: "strict",
        path: "/",
        maxAge: KEPT_MS,
        encode: String,
      })
      res.locals.device = input.name
      res.saved("This phone is let in. It stays so until it is thrown out at the computer.", {
        to: "/receive",
      })
    },
  })
  return router
}

/** Browsers keep no cookie longer than 400 days (RFC 6265bis, 5.5). */
const KEPT_MS = 400 * 24 * 60 * 60 * 1000

/** What only the computer may do, said so on a phone instead of a page that is not there. */
export function onlyAtTheComputer(paths: readonly string[]): Router {
  const router = express.Router()
  for (const path of paths) {
    router.use(path, () => {
      throw new Refusal("This is done at the studio's computer, not from a phone.", { status: 403 })
    })
  }
  return router
}

function leadOf(reachable: boolean, known: number): string {
  if (!reachable) return "Lotcup answers this computer alone."
  if (known === 0) return "No phone is let in yet."
  return known === 1 ? "One phone is let in." : `${known} phones are let in.`
}

function nowMs(studio: Studio): number {
  return studio.now().epochMilliseconds
}
