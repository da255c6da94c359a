import { checkCharacter, hasCheckCharacter } from "./check-character.ts"

/** What the studio puts its own codes on: a container, a cup, a mix. */
export type StudioCodeKind = "container" | "cup" | "mix"

export interface StudioCode {
  kind: StudioCodeKind
  code: string
}

const LETTER = { container: "K", cup: "T", mix: "M" } as const satisfies Record<StudioCodeKind, string>

/** Digits and letters that are not taken for one another: no I, L, O, U. */
const DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
const SHORTEST = 4
/** Six digits number a thousand million; a longer text is a text. */
const LARGEST = 32 ** 6 - 1

/** The code of the studio's n-th container: "K", n in at least four base-32 digits, a check character. */
export function containerCode(n: number): string {
  return codeOf("container", n)
}

/** The serial of the studio's n-th cup, made like a container's code with "T". */
export function cupSerial(n: number): string {
  return codeOf("cup", n)
}

/** The code of the studio's n-th mix, made like a container's code with "M". */
export function mixCode(n: number): string {
  return codeOf("mix", n)
}

/**
 * Reads one of the studio's own codes as scanned or typed: small letters, spaces and hyphens do not matter,
 * and in the number O is read as 0, I and L as 1, since it never holds these letters.
 *
 * One word in 36 of the right length and first letter passes: a code that was never given out is a text.
 *
 * @returns the code as it was given out, or null when it is none (`studioCodeProblem` says why)
 */
export function parseStudioCode(text: string): StudioCode | null {
  const code = tidy(text)
  const kind = kindOf(code)
  return kind !== null && hasCheckCharacter(code) ? { kind, code } : null
}

/**
 * One sentence for what looks like a code of the studio's own but was mistyped; null when it is right, or when
 * it does not look like one at all.
 */
export function studioCodeProblem(text: string): string | null {
  const code = tidy(text)
  const kind = kindOf(code)
  if (kind === null || hasCheckCharacter(code)) return null
  // a word such as "Marble" is no mistyped code: those of the first 300 000 hold a figure, or an O meant as one
  if (!/[0-9]/.test(text)) return null
  return `If ${code} is the code of a ${kind}, a character is wrong: scan it or retype it, minding 0 and O, 1 and I.`
}

const LOOKS_LIKE: Readonly<Record<string, readonly string[]>> = {
  "0": ["O"],
  O: ["0"],
  "1": ["I"],
  I: ["1"],
  L: ["1", "I"],
}

/**
 * The code that was probably meant where only the check character is wrong and looks like the right one: "K0001O" for
 * "K00010", as it is read off a bottle it was written on. Offered, never taken: the check character is there to tell
 * a slip of the hand.
 */
export function codeMeant(text: string): StudioCode | null {
  const code = tidy(text)
  const kind = kindOf(code)
  if (kind === null || hasCheckCharacter(code)) return null
  const alike = (LOOKS_LIKE[code.slice(-1)] ?? []).map((last) => code.slice(0, -1) + last)
  const meant = alike.find(hasCheckCharacter)
  return meant === undefined ? null : { kind, code: meant }
}

function codeOf(kind: StudioCodeKind, n: number): string {
  if (!Number.isInteger(n) || n < 1 || n > LARGEST) throw new RangeError(`no ${kind} has the number ${n}`)
  let digits = ""
  for (let rest = n; rest > 0; rest = Math.floor(rest / 32)) digits = DIGITS[rest % 32]! + digits
  const body = LETTER[kind] + digits.padStart(SHORTEST, "0")
  return body + checkCharacter(body)
}

function kindOf(code: string): StudioCodeKind | null {
  // four to six digits, and beyond four no zero in front
  if (!/^[KTM](?:[0-9A-HJKMNP-TV-Z]{4}|[1-9A-HJKMNP-TV-Z][0-9A-HJKMNP-TV-Z]{4,5})[0-9A-Z]$/.test(code))
    return null
  const kinds: readonly StudioCodeKind[] = ["container", "cup", "mix"]
  return kinds.find((kind) => code.startsWith(LETTER[kind])) ?? null
}

function tidy(text: string): string {
  const plain = text.toUpperCase().replace(/[\s\p{Pd}]+/gu, "")
  const number = plain.slice(1, -1).replaceAll("O", "0").replace(/[IL]/g, "1")
  return plain.slice(0, 1) + number + plain.slice(1).slice(-1)
}
