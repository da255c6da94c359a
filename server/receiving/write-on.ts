import type { Studio } from "../ledger/studio.ts"
import type { Received } from "./receive.ts"

/** More codes than these stand in the list alone. */
const MOST_CODES = 6
/** A notice cuts what is longer. */
const MOST_LETTERS = 150
/** A letter does not part from its code at the end of a line. */
const TOGETHER = "\u00a0"
const PARTS: Readonly<Record<string, string>> = { resin: "A", hardener: "B" }

/**
 * What is to be written on what came, in one sentence: "Write K0001 on it.", and of a kit which bottle gets which:
 * "Write on them: A: K0001, B: K0002."
 */
export function writeOn(studio: Studio, containers: Received["containers"]): string {
  const [first, second] = containers
  if (first !== undefined && second === undefined) return `Write ${first.code} on it.`
  const supplies = [...new Set(containers.map((one) => one.supply))]
  if (supplies.length > 1) {
    const letters = supplies.map((supply) => letterOf(studio, supply))
    const names = new Set(letters).size === supplies.length ? letters : supplies
    const told = sentence(
      supplies.map((supply, index) => ({
        name: names[index] ?? supply,
        its: containers.filter((one) => one.supply === supply),
      })),
    )
    if (told.length <= MOST_LETTERS) return told
  }
  return sentence([{ name: "", its: containers }])
}

function sentence(groups: readonly { name: string; its: Received["containers"] }[]): string {
  const all = groups.reduce((n, { its }) => n + its.length, 0)
  // of a whole shelf the first few, and room for the words that say so
  const most = all <= MOST_CODES ? MOST_CODES : Math.max(1, Math.floor((MOST_CODES - 1) / groups.length))
  const said = groups.map(({ name, its }) => {
    const codes = its.slice(0, most).map((one) => one.code)
    return { text: `${name === "" ? "" : `${name}:${TOGETHER}`}${codes.join(", ")}`, told: codes.length }
  })
  const left = all - said.reduce((n, { told }) => n + told, 0)
  const between = said.some(({ told }) => told > 1) ? "; " : ", "
  const more = left === 0 ? "." : ` and ${left} more; all are in the list.`
  return `Write on them: ${said.map(({ text }) => text).join(between)}${more}`
}

/** "A" and "B" for the parts of a resin, for anything else its name. */
function letterOf({ file }: Studio, supply: string): string {
  const found = file.firstText<{ kind: string }>("SELECT kind FROM supply WHERE name = ?", [supply])
  return PARTS[found?.kind ?? ""] ?? supply
}
