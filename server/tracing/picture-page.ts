import { Refusal } from "../domain/refusal.ts"
import { CONTAINER, sharedWord } from "../domain/vessels.ts"
import type { Studio } from "../ledger/studio.ts"
import { folded } from "./fold.ts"
import { FOCUSES, type FocusKind, type Lineage, lineageOf, THINGS, type ThingKind } from "./lineage.ts"
import { tallPicture, widePicture } from "./picture.ts"

/**
 * A thing with all it came from and went into, as a picture to tap along.
 *
 * @param kind as it stands in the address
 * @param ref its number, or the code on a bottle, a cup or a mix
 * @throws {Refusal} 404: no such kind, or no such thing
 */
export function picturePage(studio: Studio, kind: string, ref: string) {
  const focus = FOCUSES.find((one) => one === kind)
  if (focus === undefined) throw new Refusal("There is no such page.", { status: 404 })
  const id = idOf(studio, focus, ref)
  const whole = lineageOf(studio, focus, id)
  const lineage = folded(whole)
  const title = titleOf(lineage, focus, id)
  return {
    title,
    lead: leadOf(whole, focus),
    back: { to: "/trace", label: "Trace" },
    own: pageOf(whole, focus, id),
    history: focus === "coat" || focus === "buyer" ? null : `/history/of/${focus}/${id}`,
    cups: focus === "batch" ? whole.focus.map((key) => whole.things.get(key)!.name) : [],
    onlyWhatStays: whole.onlyWhatStays && whole.endsAt === null,
    endsAt: whole.endsAt,
    someOff: whole.links.some((link) => link.off),
    someToppedUp: [...lineage.things.values()].some(
      (one) => one.kind === "container" && one.says.some((says) => says.startsWith("topped up")),
    ),
    pictures: [
      { where: "wide", label: `${title}: from maker's lot to buyer`, ...widePicture(lineage) },
      { where: "narrow", label: `${title}: what it comes from, where it went`, ...tallPicture(lineage) },
    ],
  }
}

function titleOf({ things, focus }: Lineage, kind: FocusKind, id: number): string {
  if (kind === "batch") return `Trace of batch ${id}`
  const { name, says, vessel = CONTAINER } = things.get(focus[0]!)!
  const words: Record<ThingKind, string> = {
    lot: `lot ${name}, ${says[0]}`,
    delivery: `the delivery from ${name}, ${says[0]}`,
    container: `${vessel.one} ${name}`,
    coat: name.startsWith("Mix ") ? `mix ${name.slice(4)}` : `${name}, ${says[0]}`,
    cup: `cup ${name}`,
    order: name.toLowerCase(),
    buyer: name,
  }
  return `Trace of ${words[kind]}`
}

/** "3 lots, 5 bottles, 14 cups, 2 orders."; bottles and jars together are containers. */
function leadOf({ things }: Lineage, kind: FocusKind): string {
  const vessels = sharedWord([...things.values()].flatMap((thing) => thing.vessel ?? []))
  const said: Record<ThingKind, [string, string]> = {
    lot: ["lot", "lots"],
    delivery: ["delivery", "deliveries"],
    container: [vessels.one, vessels.many],
    coat: ["coat", "coats"],
    cup: ["cup", "cups"],
    order: ["order", "orders"],
    buyer: ["buyer", "buyers"],
  }
  const counts = THINGS.filter((one) => one !== kind).map((one) => {
    const mine = [...things.values()].filter((thing) => thing.kind === one)
    // a bottle that was topped up, and a delivery of several lots, are several things and yet one
    const n = new Set(mine.map((thing) => `${thing.ref.kind} ${thing.ref.id}`)).size
    return n === 0 ? "" : `${n} ${said[one][n === 1 ? 0 : 1]}`
  })
  const all = counts.filter(Boolean)
  return all.length === 0
    ? "Nothing leads to it and nothing came of it."
    : `${all.join(", ")}. Tap a box to go on from there.`
}

/** The thing's own page, with all that is known of it. */
function pageOf(
  { things, focus }: Lineage,
  kind: FocusKind,
  id: number,
): { to: string; label: string } | null {
  const first = things.get(focus[0]!)!
  switch (kind) {
    case "lot":
      return { to: `/lots/${id}`, label: "The lot's page" }
    case "delivery":
      return { to: `/receive?delivery=${id}`, label: "The delivery" }
    case "container":
      return { to: `/containers/${first.name}`, label: "Its own page" }
    case "coat":
      return first.name.startsWith("Mix ")
        ? { to: `/mixes/${first.name.slice(4)}`, label: "The mix" }
        : { to: `/batches/${first.batchId}`, label: "Its batch" }
    case "cup":
      return { to: `/cups/${first.name}`, label: "The cup's page" }
    case "batch":
      return { to: `/batches/${id}`, label: "The batch" }
    case "order":
      return { to: `/orders/${id}`, label: "The order" }
    case "buyer":
      return { to: `/go?${new URLSearchParams({ code: first.name })}`, label: "The buyer's orders" }
  }
}

const BY_CODE: Partial<Record<FocusKind, string>> = {
  container: "SELECT id FROM container WHERE code = ?",
  cup: "SELECT id FROM cup WHERE serial = ?",
  coat: "SELECT coat_id AS id FROM mix WHERE code = ?",
}

function idOf({ file }: Studio, kind: FocusKind, ref: string): number {
  if (/^[1-9]\d{0,14}$/.test(ref)) return Number(ref)
  const query = BY_CODE[kind]
  const found = query === undefined ? undefined : file.firstText<{ id: number }>(query, [ref])
  if (!found) throw new Refusal("There is no such thing to follow.", { status: 404 })
  return found.id
}
