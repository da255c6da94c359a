import type { Request, RequestHandler } from "express"
import { isLocalPath } from "./fields.ts"
import { type FormState, wantsJson } from "./forms.ts"
import { type Notice, type NoticeCarrier, readCookie } from "./notice.ts"
import type { NavigationItem, StudioView, Views } from "./views.ts"

/** What every page says of itself; the view gets it whole. */
export interface PageModel {
  /** the page's heading, and its name in the browser */
  title: string
  /** the answer first, in words, under the heading */
  lead?: string | undefined
  /** the page this one belongs to */
  back?: { to: string; label: string } | undefined
}

export interface Saved {
  /** page to go to, with 303 */
  to: string
  /** the action the Undo button takes back */
  undo?: number | undefined
  /** where Undo leads, if not back to the page it stands on: what was made is then gone */
  undoTo?: string | undefined
  /** more to say: what is now low */
  also?: readonly string[] | undefined
}

declare global {
  // the only way express offers to say what a middleware adds
  namespace Express {
    interface Response {
      /** Answers with a page: `server/<capability>/views/<name>.hbs` for "capability/name". */
      page<Model extends PageModel>(view: string, model: Model, form?: FormState | null): void
      /** Done: says so once on the page that comes next, with Undo. Asked by fetch, answers the same in JSON. */
      saved(sentence: string, where: Saved): void
    }
  }
}

interface Parts {
  views: Views
  notices: NoticeCarrier
  navigation: readonly NavigationItem[]
  helpersContext: () => StudioView
  port: () => number
  /** devices must be let in; until then a page shows nothing of the studio */
  hasDoor: boolean
}

/** Gives each response `page` and `saved`. */
export function answers(parts: Parts): RequestHandler {
  // cookies are shared between ports; two studios open side by side must not take each other's notices
  const cookieName = () => `lotcup-notice-${parts.port()}`
  const cookieOptions = { httpOnly: true, sameSite: "strict", path: "/" } as const

  return (req, res, next) => {
    res.page = (view, model, form = null) => {
      const cookie = readCookie(req.headers.cookie, cookieName())
      const notice = parts.notices.unpack(cookie)
      const isStranger = parts.hasDoor && res.locals.device === undefined
      const html = parts.views.page(view, model, {
        studio: isStranger ? { ...parts.helpersContext(), ...STRANGERS_VIEW } : parts.helpersContext(),
        form,
        notice,
        navigation: isStranger ? [] : withCurrent(parts.navigation, req.path),
        here: here(req),
        posted: req.method !== "POST" ? null : res.locals.isOwnPage === true ? "own" : "other",
      })
      if (cookie !== undefined) res.clearCookie(cookieName(), cookieOptions)
      res.type("html").send(html)
    }
    res.saved = (sentence, where) => {
      for (const path of [where.to, where.undoTo ?? where.to])
        if (!isLocalPath(path)) throw new Error(`Not a path of this server: ${path}`)
      const notice: Notice = {
        sentence,
        also: [...(where.also ?? [])],
        undo: where.undo ?? null,
        undoTo: where.undoTo ?? null,
      }
      if (wantsJson(req)) {
        res.json({ ...notice, to: where.to })
        return
      }
      res.cookie(cookieName(), parts.notices.pack(notice), {
        ...cookieOptions,
        maxAge: 60_000,
        encode: String,
      })
      res.redirect(303, where.to)
    }
    next()
  }
}

/** What a device that is not let in reads of the studio: not even its name. */
const STRANGERS_VIEW = { studioName: "Lotcup", isDemo: false, lowCount: 0 } as const

/** The address to come back to after Undo. */
function here(req: Request): string {
  return req.method === "GET" && isLocalPath(req.originalUrl) ? req.originalUrl : "/"
}

function withCurrent(navigation: readonly NavigationItem[], path: string) {
  const under = (to: string) => path === to || (to !== "/" && path.startsWith(`${to}/`))
  const current = navigation.filter((item) => under(item.to)).sort((a, b) => b.to.length - a.to.length)[0]
  return navigation.map((item) => ({ ...item, current: item === current }))
}
