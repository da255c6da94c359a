import type { Lineage, Link, Thing } from "./lineage.ts"

/** More boxes than this in a column, and like coats are put together. */
const MANY_COATS = 16
/** More groups of cups than this, and the earliest go into one box. */
const MANY_GROUPS = 24

/**
 * Makes a lineage fit to look at, and keeps it true: a bottle is two boxes only where something was taken from it
 * before a top-up; cups of one batch with the very same coats are one box. Where there are many coats, those of a
 * batch from the same bottles are one box.
 */
export function folded(lineage: Lineage): Lineage {
  const bottles = foldFillings(lineage)
  const coats = [...bottles.things.values()].filter((one) => one.kind === "coat")
  return foldEarliest(foldCups(coats.length > MANY_COATS ? foldCoats(bottles, coats) : bottles))
}

function foldFillings(lineage: Lineage): Lineage {
  let now = lineage
  for (const thing of lineage.things.values()) {
    if (thing.kind !== "container") continue
    const after = now.links.filter((link) => link.from === thing.key)
    const next = after.length === 1 ? now.things.get(after[0]!.to) : undefined
    if (next?.kind !== "container" || next.ref.id !== thing.ref.id) continue
    // nothing was taken before the next top-up: what counts is what was in it then
    now = putTogether(now, [thing, next], { ...next })
  }
  return now
}

function foldCups(lineage: Lineage): Lineage {
  const into = coming(lineage)
  const groups = grouped(
    [...lineage.things.values()].filter((one) => one.kind === "cup"),
    (cup) => `${cup.batchId} ${into(cup.key)}`,
  )
  return groups
    .filter((group) => group.length > 1)
    .reduce((now, group) => {
      const [first] = group as [Thing, ...Thing[]]
      return putTogether(now, group, {
        ...first,
        key: `cups ${first.key}`,
        ref: { kind: "batch", id: first.batchId ?? 0 },
        name: `${group.length} cups`,
        says: [`of batch ${first.batchId}`, states(group)],
      })
    }, lineage)
}

function foldCoats(lineage: Lineage, coats: readonly Thing[]): Lineage {
  const into = coming(lineage)
  const off = new Set(lineage.links.filter((link) => link.off).map((link) => link.from))
  return grouped(coats, (coat) => `${coat.batchId} ${into(coat.key)} ${off.has(coat.key)}`)
    .filter((group) => group.length > 1)
    .reduce((now, group) => {
      const [first] = group as [Thing, ...Thing[]]
      const layers = group.map((one) => (one.says.length > 1 ? one.says[0] : one.name))
      return putTogether(now, group, {
        ...first,
        key: `coats ${first.key}`,
        ref: { kind: "batch", id: first.batchId ?? 0 },
        name: `${group.length} coats`,
        says: [[...new Set(layers)].join(", "), `of batch ${first.batchId}`],
      })
    }, lineage)
}

function foldEarliest(lineage: Lineage): Lineage {
  const groups = [...lineage.things.values()].filter((one) => one.kind === "cup")
  if (groups.length <= MANY_GROUPS || groups.some((one) => lineage.focus.includes(one.key))) return lineage
  const early = groups.sort((a, b) => (a.batchId ?? 0) - (b.batchId ?? 0)).slice(0, 1 - MANY_GROUPS)
  const cups = early.reduce((sum, one) => sum + cupsIn(one), 0)
  const keys = new Set(early.map((one) => one.key))
  const coats = [...lineage.things.values()].filter((one) => {
    const to = lineage.links.filter((link) => link.from === one.key)
    return one.kind === "coat" && to.length > 0 && to.every((link) => keys.has(link.to))
  })
  const rest = { kind: "batch", id: early.at(-1)!.batchId ?? 0 } as const
  const withCups = putTogether(lineage, early, {
    ...early[0]!,
    key: "earlier cups",
    ref: rest,
    name: `${cups} cups`,
    says: ["of earlier batches: see the list on the page of the lot"],
  })
  if (coats.length < 2) return withCups
  return putTogether(withCups, coats, {
    ...coats[0]!,
    key: "earlier coats",
    ref: rest,
    name: `${coats.length} coats`,
    says: ["of earlier batches"],
  })
}

function cupsIn(group: Thing): number {
  return group.ref.kind === "cup" ? 1 : Number.parseInt(group.name, 10)
}

/** "8 sent, 4 good" */
function states(group: readonly Thing[]): string {
  return grouped(group, (one) => one.state ?? "")
    .map((same) => `${same.length} ${same[0]?.state}`)
    .join(", ")
}

/** One thing in place of several: what led to any of them leads to it. */
function putTogether(lineage: Lineage, several: readonly Thing[], one: Thing): Lineage {
  const gone = new Set(several.map((thing) => thing.key))
  const now = (key: string) => (gone.has(key) ? one.key : key)
  const things = new Map<string, Thing>()
  for (const [key, thing] of lineage.things) things.set(now(key), gone.has(key) ? one : thing)
  const links = new Map<string, Link>()
  for (const { from, to, off } of lineage.links) {
    const link = { from: now(from), to: now(to), off }
    const key = `${link.from} > ${link.to}`
    if (link.from !== link.to) links.set(key, { ...link, off: off && (links.get(key)?.off ?? true) })
  }
  return { ...lineage, focus: [...new Set(lineage.focus.map(now))], things, links: [...links.values()] }
}

/** What leads to a thing, and whether it came off again, as one text. */
function coming({ links }: Lineage): (key: string) => string {
  const groups = new Map<string, string[]>()
  for (const { from, to, off } of links)
    groups.set(to, [...(groups.get(to) ?? []), `${from}${off ? " off" : ""}`])
  return (key) => (groups.get(key) ?? []).sort().join("; ")
}

function grouped<One>(all: readonly One[], by: (one: One) => string): One[][] {
  const groups = new Map<string, One[]>()
  for (const one of all) groups.set(by(one), [...(groups.get(by(one)) ?? []), one])
  return [...groups.values()]
}
