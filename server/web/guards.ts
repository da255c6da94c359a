import type { NextFunction, Request, RequestHandler, Response } from "express"
import helmet from "helmet"
import type { Logger } from "pino"

const READS = new Set(["GET", "HEAD", "OPTIONS"])

/** Where a listener is reached: plain HTTP on this computer, or HTTPS on one address of the local network. */
export interface Reached {
  scheme: "http" | "https"
  /** names and addresses without a port */
  names: readonly string[]
  port: number
}

/** This computer by its own names. */
export function onThisComputer(port: number): Reached {
  return { scheme: "http", names: ["127.0.0.1", "localhost", "[::1]"], port }
}

/**
 * Headers every answer carries: nothing loads, frames or sends a form anywhere but here, and only this page
 * may ask for the camera. No HSTS and no upgrade of requests: the server speaks plain HTTP on loopback, and a
 * phone that kept HSTS for an address of the local network would be stuck once another thing has that address.
 */
export function safeHeaders(): RequestHandler[] {
  return [
    helmet({
      contentSecurityPolicy: {
        useDefaults: false,
        directives: {
          "default-src": ["'none'"],
          "script-src": ["'self'"],
          "style-src": ["'self'"],
          "img-src": ["'self'", "data:", "blob:"],
          "font-src": ["'self'"],
          "connect-src": ["'self'"],
          "media-src": ["'self'", "blob:"],
          "worker-src": ["'self'"],
          "form-action": ["'self'"],
          "frame-ancestors": ["'none'"],
          "base-uri": ["'none'"],
        },
      },
      strictTransportSecurity: false,
      // "no-referrer" would make browsers send "Origin: null" with our own forms
      referrerPolicy: { policy: "same-origin" },
      xFrameOptions: { action: "deny" },
    }),
    (_req, res, next) => {
      res.setHeader("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
      // pages are made anew each time; the few things that may be kept say so themselves
      res.setHeader("Cache-Control", "no-store")
      next()
    },
  ]
}

/**
 * Lets what is answered run machine code of ours (WebAssembly), though no script made from text: the thread that
 * reads codes needs it. Pages do not, and a thread goes by the headers of its own script.
 */
export function letRunMachineCode(res: Response): void {
  const policy = String(res.getHeader("Content-Security-Policy"))
  res.setHeader(
    "Content-Security-Policy",
    policy.replace("script-src 'self'", "script-src 'self' 'wasm-unsafe-eval'"),
  )
}

/**
 * Answers only when asked by one of our own names with our own port, reads included: a page elsewhere whose
 * name was pointed at 127.0.0.1 gets nothing.
 */
export function onlyOurHost(reached: () => Reached, logger: Logger): RequestHandler {
  return (req, res, next) => {
    const ours = reached()
    if (ourHosts(ours).includes(req.headers.host ?? "") && req.url.startsWith("/")) return next()
    logger.warn({ host: (req.headers.host ?? "").slice(0, 100) }, "refused: not our address")
    plainRefusal(res, 421, `Lotcup only answers at ${ours.scheme}://${ours.names[0]}:${ours.port}/.`)
  }
}

/**
 * A write must come from a page of ours: the browser says so in Sec-Fetch-Site or in Origin. Whichever it sends
 * must agree, and one that sends neither is refused.
 */
export function onlyOurPagesWrite(reached: () => Reached, logger: Logger): RequestHandler {
  return (req: Request, res: Response, next: NextFunction) => {
    if (READS.has(req.method)) return next()
    const site = req.headers["sec-fetch-site"]
    const origin = req.headers.origin
    const siteAgrees = site === undefined || site === "same-origin"
    const originAgrees = origin === undefined || origin === `${reached().scheme}://${req.headers.host}`
    if (siteAgrees && originAgrees && (site ?? origin) !== undefined) return next()
    logger.warn({ origin: (origin ?? "").slice(0, 100), site }, "refused: written from elsewhere")
    plainRefusal(res, 403, "This was sent from somewhere else than a Lotcup page, so nothing was done.")
  }
}

function ourHosts({ scheme, names, port }: Reached): string[] {
  const withPort = names.map((name) => `${name}:${port}`)
  // browsers leave the port out of Host when it is the usual one
  return port === (scheme === "http" ? 80 : 443) ? [...withPort, ...names] : withPort
}

/** Plain words for strangers: no page, no layout, nothing of the studio. */
function plainRefusal(res: Response, status: number, sentence: string): void {
  res.status(status).type("text/plain").send(`${sentence}\n`)
}
