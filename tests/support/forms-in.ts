/** A field of a form as a browser would send it untouched. */
export interface Field {
  name: string
  value: string
  type: "hidden" | "text" | "checkbox" | "radio" | "select" | "textarea" | "button"
}

/** A form on a page: where it is sent and what with, if nobody changes anything. */
export interface FoundForm {
  method: "get" | "post"
  /** with its query */
  path: string
  fields: Field[]
}

/** The forms of a page made by our own templates. One without an address goes to the page's. */
export function formsIn(html: string, address: string): FoundForm[] {
  return [...html.matchAll(/<form\b([^>]*)>([\s\S]*?)<\/form>/g)].map(([, tag, inside]) => {
    const action = attribute(tag!, "action")
    const { pathname, search } = new URL(action ?? address, "http://127.0.0.1")
    return {
      method: attribute(tag!, "method") === "post" ? "post" : "get",
      path: pathname + search,
      fields: fieldsIn(inside!),
    }
  })
}

/** Where the links on a page lead, and what it loads, as far as it is ours. */
export function linksIn(html: string): string[] {
  const addresses = [...html.matchAll(/ (?:href|src)="(\/[^"]*)"/g)].map((found) => plain(found[1]!))
  return addresses.map((address) => address.split("#")[0]!)
}

const CONTROLS = /<(input|button)\b([^>]*)>|<(select|textarea)\b([^>]*)>([\s\S]*?)<\/\3>/g

function fieldsIn(html: string): Field[] {
  return [...html.matchAll(CONTROLS)].flatMap(([, single, its = "", paired, their = "", inside = ""]) => {
    const attributes = single === undefined ? their : its
    const name = attribute(attributes, "name")
    return name === null ? [] : fieldOf(name, single ?? paired!, attributes, inside)
  })
}

/** None for what a browser would not send: a box that is not ticked, a file that is not chosen. */
function fieldOf(name: string, tag: string, attributes: string, inside: string): Field[] {
  const value = attribute(attributes, "value")
  const type = attribute(attributes, "type")
  if (tag === "select") return [{ name, value: chosenIn(inside), type: "select" }]
  if (tag === "textarea") return [{ name, value: plain(inside.trim()), type: "textarea" }]
  if (tag === "button") return [{ name, value: value ?? "", type: "button" }]
  if (type === "hidden") return [{ name, value: value ?? "", type }]
  if (type === "file") return []
  if (type !== "checkbox" && type !== "radio") return [{ name, value: value ?? "", type: "text" }]
  return / checked\b/.test(attributes) ? [{ name, value: value ?? "on", type }] : []
}

function chosenIn(options: string): string {
  const all = [...options.matchAll(/<option\b([^>]*)>/g)].map((found) => found[1]!)
  const chosen = all.find((one) => / selected\b/.test(one)) ?? all[0]
  return chosen === undefined ? "" : (attribute(chosen, "value") ?? "")
}

function attribute(tag: string, name: string): string | null {
  const found = new RegExp(`(?:^|\\s)${name}="([^"]*)"`).exec(tag)
  return found === null ? null : plain(found[1]!)
}

const ENTITIES: Record<string, string> = { amp: "&", lt: "<", gt: ">", quot: '"' }

function plain(text: string): string {
  return text.replace(/&(?:#x([0-9a-fA-F]+)|#(\d+)|(\w+));/g, (whole, hex, decimal, name) => {
    if (hex !== undefined) return String.fromCodePoint(Number.parseInt(hex, 16))
    if (decimal !== undefined) return String.fromCodePoint(Number(decimal))
    return ENTITIES[name] ?? whole
  })
}
