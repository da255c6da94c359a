import type { Listening } from "../http/listening.ts"
import { type FoundForm, formsIn, linksIn } from "./forms-in.ts"
import { isOf, type Route } from "./routes-of.ts"

/** A page by its address, and the forms on it. */
export interface FoundPage {
  url: string
  address: string
  forms: readonly FoundForm[]
}

export interface Walked {
  pages: FoundPage[]
  /** routes that answered to some address: with a page, a file, a picture, the way to another page */
  answered: ReadonlySet<string>
  /** addresses that stand on a page or were given, and lead nowhere */
  nowhere: string[]
}

/** Two pages of a kind are enough: a first batch and a second. */
const OF_EACH_KIND = 2

/**
 * Walks an application as a person does: by the links on its pages, beginning with every address that needs
 * nothing filled in. Where a form is sent is asked too: whoever loads a refused form again asks just that.
 *
 * @param more addresses to begin with: those only a scanner or a script asks for, and those that must be among them
 */
export async function walk(
  here: Listening,
  routes: readonly Route[],
  more: readonly string[] = [],
): Promise<Walked> {
  const gets = routes.filter(({ method }) => method === "get").map(({ path }) => path)
  const alone = gets.filter((path) => !path.includes(":"))
  const queue = [...more, ...alone]
  const asked = new Map<string, number>()
  const seen = new Set<string>()
  const pages: FoundPage[] = []
  const answered = new Set<string>()
  const nowhere: string[] = []
  for (let address = queue.shift(); address !== undefined; address = queue.shift()) {
    const route = routeOf(address, gets)
    const kind = `${route}?${[...new URL(address, here.url).searchParams.keys()].sort()}`
    const times = asked.get(kind) ?? 0
    if (route === null || seen.has(address) || (times >= OF_EACH_KIND && !more.includes(address))) continue
    asked.set(kind, times + 1)
    seen.add(address)
    const answer = await here.get(address)
    if (answer.status < 400) answered.add(route)
    else if (!alone.includes(address)) nowhere.push(`${answer.status} ${address}`)
    if (answer.status !== 200 || answer.type !== "text/html") continue
    const forms = formsIn(answer.text, address)
    const posts = forms.filter(({ method }) => method === "post")
    pages.push({ url: here.url, address, forms })
    queue.push(...linksIn(answer.text), ...posts.map(({ path }) => path))
  }
  return { pages, answered, nowhere }
}

/** The first route of a list that an address belongs to. */
export function routeOf(address: string, paths: readonly string[]): string | null {
  const { pathname } = new URL(address, "http://127.0.0.1")
  return paths.find((path) => path === pathname) ?? paths.find((path) => isOf(path, pathname)) ?? null
}
