import express, { type Express, type RequestHandler, type Router } from "express"
import type { Logger } from "pino"
import type { Refusal } from "../domain/refusal.ts"
import { answers } from "./answers.ts"
import type { Assets } from "./assets.ts"
import { errorPage, notFound } from "./errors.ts"
import { onlyOurHost, onlyOurPagesWrite, onThisComputer, type Reached, safeHeaders } from "./guards.ts"
import { nest } from "./nest.ts"
import { NoticeCarrier } from "./notice.ts"
import { type NavigationItem, type StudioView, Views } from "./views.ts"

export interface ShellOptions {
  /** the rooms, asked in this order */
  routers: readonly { router: Router }[]
  navigation: readonly NavigationItem[]
  /** the port listened on, known only once the server runs */
  port: () => number
  /** where it is reached; this computer alone unless said otherwise */
  reached?: () => Reached
  /** while a long piece of work writes, done when it ends; what else would be written waits for it */
  busy?: () => Promise<void> | null
  /** asked before anything of the studio is shown or changed */
  door?: RequestHandler
  logger: Logger
  /** folder of views by capability (`findViewRoots`) */
  viewRoots: Readonly<Record<string, string>>
  assets: Assets
  /** asked once a page */
  helpersContext: () => StudioView
  /** turns an error of another layer (a locked file) into a refusal */
  explain?: (error: unknown) => Refusal | undefined
}

const LARGEST_BODY = "200kb"
const MOST_FIELDS = 1000

/**
 * The web application around the rooms: who may ask, what may be sent, how pages and errors look.
 * The order is the safety: headers first, then who asks, then what they send, then the rooms.
 */
export function createShell(options: ShellOptions): Express {
  const app = express()
  app.disable("x-powered-by")
  app.disable("etag")
  app.set("query parser", "simple")
  app.set("trust proxy", false)

  const reached = options.reached ?? (() => onThisComputer(options.port()))
  app.use(safeHeaders())
  app.use(onlyOurHost(reached, options.logger))
  app.use(onlyOurPagesWrite(reached, options.logger))
  if (options.door) app.use(options.door)
  app.use(async (req, _res, next) => {
    for (let busy = options.busy?.(); busy && req.method === "POST"; busy = options.busy?.()) await busy
    next()
  })
  app.use(
    answers({
      views: new Views(options.viewRoots, options.assets),
      notices: new NoticeCarrier(),
      navigation: options.navigation,
      helpersContext: options.helpersContext,
      port: options.port,
      hasDoor: options.door !== undefined,
    }),
  )
  app.use(options.assets.router)
  app.use(
    express.urlencoded({ extended: false, limit: LARGEST_BODY, parameterLimit: MOST_FIELDS }),
    (req, _res, next) => {
      if (req.is("urlencoded") && typeof req.body === "object") req.body = nest(req.body)
      next()
    },
    express.json({ limit: LARGEST_BODY }),
  )
  for (const { router } of options.routers) app.use(router)
  app.use(notFound)
  app.use(errorPage(options.logger, options.explain ?? (() => undefined)))
  return app
}
