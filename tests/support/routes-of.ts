import type { Express } from "express"

/** A route as the application has it: "/batches/:id/coat". */
export interface Route {
  method: "get" | "post"
  path: string
}

interface Layer {
  route?: { path: string | readonly string[]; methods: Record<string, boolean> }
  handle: { stack?: readonly Layer[] }
}

/** Every route of an application, read from the router that answers its requests; nothing has to be listed by hand. */
export function routesOf(app: Express): Route[] {
  const routes: Route[] = []
  const walk = (layers: readonly Layer[]) => {
    for (const { route, handle } of layers) {
      if (route === undefined) walk(handle.stack ?? [])
      else for (const path of [route.path].flat()) routes.push({ method: methodOf(route.methods), path })
    }
  }
  // express types its layers without what it keeps in them
  walk(app.router.stack as unknown as readonly Layer[])
  return routes
}

/** Whether an address without its query is one of a route's. */
export function isOf(path: string, pathname: string): boolean {
  const steps = path.split("/").map((step) => (step.startsWith(":") ? "[^/]+" : escaped(step)))
  return new RegExp(`^${steps.join("/")}$`).test(pathname)
}

function methodOf(methods: Record<string, boolean>): Route["method"] {
  const [only, ...others] = Object.keys(methods)
  if ((only !== "get" && only !== "post") || others.length > 0)
    throw new Error(`No test knows what to do with ${Object.keys(methods)}.`)
  return only
}

function escaped(text: string): string {
  return text.replace(/[.*+?^${}()|[\]\\]/g, "\\$&")
}
