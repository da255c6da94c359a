import type { RequestHandler } from "express"
import type { Studio } from "../ledger/studio.ts"
import { readCookie } from "../web/notice.ts"
import { deviceWith } from "./service.ts"

/** Host-only by its prefix: no other name, port or path may set or read it (RFC 6265bis, 4.1.3.2). */
export const DEVICE_COOKIE = "__Host-lotcup-device"

/** What a device that is not let in may ask for: the page where it shows its code, and that page's own looks. */
function isOpen(path: string): boolean {
  return path === "/pair" || path.startsWith("/assets/")
}

/** Lets only paired devices in, and remembers which one asks, for the history. */
export function onlyPaired(studio: Studio): RequestHandler {
  return (req, res, next) => {
    const token = readCookie(req.headers.cookie, DEVICE_COOKIE)
    const device = token === undefined ? null : deviceWith(studio, token)
    if (device !== null) {
      res.locals.device = device.name
      return next()
    }
    if (isOpen(req.path)) return next()
    if (req.method === "GET" && req.accepts(["html", "json"]) === "html") return res.redirect(302, "/pair")
    res
      .status(401)
      .type("text/plain")
      .send("This phone is not let in. Pair it at the studio's computer: Set up, Phones.\n")
  }
}
