/** What a form sent, nested: `uses[0][amount]=5` is `{ uses: [{ amount: "5" }] }`. */
export type Typed = Record<string, unknown>

const NAME = /^[A-Za-z_][\w-]{0,59}(?:\[(?:\d{1,3}|[A-Za-z_][\w-]{0,59})\]){0,4}$/

/**
 * Nests flat form fields. Rows close up: `uses[0]`, `uses[7]` become rows 0 and 1, since a person may have
 * taken out those between. Names of any other shape are left out; nothing can reach an object's prototype.
 */
export function nest(flat: Record<string, unknown>): Typed {
  const root: Typed = Object.create(null)
  for (const [name, value] of Object.entries(flat)) {
    const steps = name.split(/[[\]]+/).filter((step) => step !== "")
    if (!NAME.test(name) || steps.includes("__proto__")) continue
    let at = root
    for (const step of steps.slice(0, -1)) {
      const next = at[step]
      const inner: Typed = isTyped(next) ? next : Object.create(null)
      at[step] = inner
      at = inner
    }
    at[steps.at(-1) as string] = value
  }
  return closeUp(root) as Typed
}

/** The nested fields by the names they have in the page: `uses[0][amount]` → ["5"]. */
export function flatten(typed: Typed): Record<string, readonly string[]> {
  const values: Record<string, readonly string[]> = Object.create(null)
  const walk = (value: unknown, name: string) => {
    if (typeof value === "string") values[name] = [value]
    else if (Array.isArray(value) && value.every((one) => typeof one === "string")) values[name] = value
    else if (typeof value === "object" && value !== null)
      for (const [key, one] of Object.entries(value)) walk(one, `${name}[${key}]`)
  }
  for (const [key, value] of Object.entries(typed)) walk(value, key)
  return values
}

/** The name a field at this path has in the page. */
export function fieldName(path: readonly PropertyKey[]): string {
  return path.map((step, index) => (index === 0 ? String(step) : `[${String(step)}]`)).join("")
}

function closeUp(value: unknown): unknown {
  if (!isTyped(value)) return value
  const keys = Object.keys(value)
  if (keys.length > 0 && keys.every((key) => /^\d+$/.test(key)))
    return keys.sort((a, b) => Number(a) - Number(b)).map((key) => closeUp(value[key]))
  for (const key of keys) value[key] = closeUp(value[key])
  return value
}

function isTyped(value: unknown): value is Typed {
  return typeof value === "object" && value !== null && !Array.isArray(value)
}
