import type { Chance } from "../support/chance.ts"
import type { FoundForm } from "../support/forms-in.ts"
import { filledIn, formsOn, linksOn, type Sent } from "./browser-like.ts"

/** Where the studio is, and what there is to work with. */
export interface Bench {
  url: string
  random: Chance
  /** codes printed on packs */
  packCodes: readonly string[]
}

type Find = (bench: Bench) => Promise<Sent | null>

/**
 * A day's work in any order, each as its page's form filled in, ready to be sent. Some will be refused: an empty
 * bottle, a batch that is finished already. Null where there is nothing to do.
 */
export const DEEDS: Readonly<Record<string, Find>> = {
  "begin a delivery": async ({ url }) => onPage(url, "/receive/begin", /^\/receive\/deliveries$/),
  receive: async (bench) => {
    const delivery = await openDelivery(bench)
    const code = anyOf(bench.random, bench.packCodes)
    if (delivery === null || code === null) return null
    return onPage(
      bench.url,
      `/receive/scan?delivery=${delivery}&code=${code}`,
      /^\/receive\/confirm/,
      (form) => ({
        ...(has(form, "shared[number]") ? { "shared[number]": `L${bench.random.below(50)}` } : {}),
        ...Object.fromEntries(
          form.fields
            .filter((field) => /^lots\[\d+\]\[number\]$/.test(field.name))
            .map((field) => [field.name, `L${bench.random.below(50)}`]),
        ),
        count: "2",
      }),
    )
  },
  open: (bench) => onContainer(bench, /\/open$/),
  hold: (bench) => onContainer(bench, /\/(hold|release)$/),
  "put on the bench": (bench) => onContainer(bench, /\/(un)?bench$/),
  count: (bench) =>
    onContainer(bench, /\/count$/, () => ({ level: anyOf(bench.random, ["full", "3/4", "1/2", "1/4"])! })),
  "write off": (bench) =>
    onContainer(bench, /\/write-off$/, (form) => ({
      share: "half",
      kind: "waste",
      ...(has(form, "reason") ? { reason: "spilled" } : {}),
    })),
  decant: (bench) => onContainer(bench, /\/decant$/),
  "top up": (bench) => onContainer(bench, /\/top-up$/),
  "start a batch": async ({ url, random }) => {
    const designs = await linksOn(url, "/designs", "/designs/")
    const design = anyOf(
      random,
      designs.filter((link) => /^\/designs\/\d+$/.test(link)),
    )
    return design === null
      ? null
      : onPage(url, design, /^\/batches$/, () => ({ cups: String(1 + random.below(3)) }))
  },
  coat: (bench) => onBatch(bench, /\/coat$/),
  finish: (bench) => onBatch(bench, /\/finish$/),
  scrap: (bench) => onBatch(bench, /\/scrap$/),
  "take an order": async ({ url, random }) => {
    const { forms } = await formsOn(url, "/orders/new")
    const form = forms.find(({ path }) => path === "/orders/new")
    const design = form?.fields.find((field) => field.name === "lines[0][designId]")
    if (!form || !design) return null
    const dueOn = new Date(Date.now() + (30 + random.below(60)) * 86_400_000).toISOString().slice(0, 10)
    return filledIn(form, {
      buyer: `Buyer ${random.below(20)}`,
      "lines[0][designId]": "1",
      "lines[0][quantity]": String(1 + random.below(9)),
      "lines[0][dueOn]": dueOn,
    })
  },
  undo: ({ url, random }) => onPage(url, "/history", /^\/history\/\d+\/undo$/, () => ({}), random),
}

/** One deed, any of them. */
export async function anyDeed(bench: Bench): Promise<Sent | null> {
  const names = Object.keys(DEEDS)
  return DEEDS[names[bench.random.below(names.length)]!]!(bench)
}

async function openDelivery({ url, random }: Bench): Promise<string | null> {
  const html = await (await fetch(`${url}/receive`)).text()
  const all = [...html.matchAll(/href="\/receive\?delivery=(\d+)"/g)].map((found) => found[1]!)
  return anyOf(random, all)
}

async function onContainer(
  { url, random }: Bench,
  action: RegExp,
  given: (form: FoundForm) => Record<string, string> = () => ({}),
): Promise<Sent | null> {
  const container = anyOf(random, await linksOn(url, "/shelf", "/containers/"))
  return container === null ? null : onPage(url, container, action, given)
}

async function onBatch({ url, random }: Bench, action: RegExp): Promise<Sent | null> {
  const batches = (await linksOn(url, "/batches", "/batches/")).filter((link) =>
    /^\/batches\/\d+$/.test(link),
  )
  // those in work are listed first
  const batch = anyOf(random, batches.slice(0, 6))
  return batch === null ? null : onPage(url, batch, action, () => ({}), random)
}

/** A form of a page, filled in; the first that fits, or any of them. */
async function onPage(
  url: string,
  path: string,
  action: RegExp,
  given: (form: FoundForm) => Record<string, string> = () => ({}),
  random?: Chance,
): Promise<Sent | null> {
  const { forms } = await formsOn(url, path)
  const fit = forms.filter((form) => action.test(form.path.split("?")[0]!) && has(form, "key"))
  const form = random ? anyOf(random, fit) : (fit[0] ?? null)
  return form === null ? null : filledIn(form, given(form))
}

function has(form: FoundForm, name: string): boolean {
  return form.fields.some((field) => field.name === name)
}

function anyOf<T>(random: Chance, all: readonly T[]): T | null {
  return all.length === 0 ? null : all[random.below(all.length)]!
}
