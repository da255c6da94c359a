import { collected, type ParsedElements, type Piece } from "./elements.ts"
import { type Identifier, identifier } from "./identifiers.ts"

/**
 * Reads a GS1 Digital Link: a web address of any domain whose path names a thing by identifier and data,
 * "https://example.com/some/path/01/09520000001234/10/A1?17=261203" (GS1 Digital Link Standard: URI Syntax).
 * What follows the thing in the path stands in a set order; the query adds attributes, and what is no attribute
 * there belongs to the site. An item number of 8, 12 or 13 digits, as older links have it, gets its zeros.
 *
 * @returns null when it is no such address: it is something else
 */
export function parseDigitalLink(text: string): ParsedElements | null {
  const [, path, query] = /^https?:\/\/[^/?#\s]+(\/[^?#]*)(?:\?([^#]*))?(?:#.*)?$/i.exec(text.trim()) ?? []
  if (path === undefined) return null
  const segments = path.split("/").slice(1).map(decoded)
  if (segments.at(-1) === "") segments.pop()
  // the thing stands last but for what belongs to it; what stands before it is the site's own
  for (let at = segments.length - 2; at >= 0; at--) {
    const key = identifier(segments[at] ?? "")
    const named = key?.follows ? namedBy(key, segments.slice(at)) : null
    if (named !== null) return collected([...named, ...attributesIn(query ?? "")])
  }
  return null
}

/** The thing and what follows it, each with its data; null when they are not in an order the standard has. */
function namedBy(key: Identifier, segments: readonly (string | null)[]): Piece[] | null {
  if (segments.length % 2 !== 0) return null
  const named: Piece[] = []
  for (let at = 0; at < segments.length; at += 2) {
    const id = identifier(segments[at] ?? "")
    const value = segments[at + 1]
    if (!id || value === null || value === undefined) return null
    named.push({ id, value: at === 0 ? withZeros(id, value) : value })
  }
  const [thing, ...others] = named
  if (!thing || !looksRight(thing)) return null
  const order = others.map(({ id }) => id.ai)
  return key.follows?.some((list) => isPartInOrder(order, list)) ? named : null
}

/** A folder of the site may be called "01" too: data of another kind or length is no thing's. */
function looksRight({ id, value }: Piece): boolean {
  const longest = id.components.reduce((sum, { max }) => sum + max, 0)
  const shortest = id.components.reduce((sum, { min, optional }) => sum + (optional ? 0 : min), 0)
  const digitsFirst = id.components[0]?.set !== "N" || /^[0-9]+$/.test(value.slice(0, id.components[0].max))
  return value.length >= shortest && value.length <= longest && digitsFirst
}

function attributesIn(query: string): Piece[] {
  return query.split(/[&;]/).flatMap((pair) => {
    const [name = "", ...rest] = pair.split("=")
    const id = identifier(name)
    const value = decoded(rest.join("=").replaceAll("+", " "))
    return id?.attribute && value !== null ? [{ id, value }] : []
  })
}

function isPartInOrder(some: readonly string[], list: readonly string[]): boolean {
  let from = 0
  return some.every((one) => {
    const at = list.indexOf(one, from)
    from = at + 1
    return at !== -1
  })
}

function withZeros({ ai }: Identifier, value: string): string {
  return ai === "01" && /^(?:[0-9]{8}|[0-9]{12,13})$/.test(value) ? value.padStart(14, "0") : value
}

/** Percent signs undone; null when they are broken. */
function decoded(text: string): string | null {
  try {
    return decodeURIComponent(text)
  } catch {
    return null
  }
}
