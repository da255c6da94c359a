/** Parts of a whole as a person says them, in halves, thirds, quarters, fifths … of one. */
const WORDS: Record<string, number> = {
  all: 1,
  everything: 1,
  half: 1 / 2,
  third: 1 / 3,
  "two thirds": 2 / 3,
  quarter: 1 / 4,
  fourth: 1 / 4,
  "three quarters": 3 / 4,
  "three fourths": 3 / 4,
  tenth: 1 / 10,
  "¼": 1 / 4,
  "½": 1 / 2,
  "¾": 3 / 4,
  "⅓": 1 / 3,
  "⅔": 2 / 3,
}

/**
 * Reads a share of a whole: "half", "½", "1/2", "a quarter of it", "three quarters", "50 %". Only a fraction that
 * stands alone is one: "1/2 gal" and "1 1/2" are amounts.
 *
 * @returns above 0 and at most 1; null when no share is said
 */
export function shareSaid(text: string): number | null {
  const said = text
    .toLowerCase()
    .replace(/[\s-]+/g, " ")
    .trim()
    .replace(/^(?:about )?(?:(?:the|a|an|one) )?/, "")
    .replace(/ (?:of (?:it|them|that|the rest|what is left|what's left)|full)$/, "")
  const word = Object.hasOwn(WORDS, said) ? WORDS[said] : undefined
  if (word !== undefined) return word
  const fraction = /^(\d{1,3}) ?[/⁄] ?(\d{1,3})$/.exec(said)
  if (fraction) return sensible(Number(fraction[1]) / Number(fraction[2]))
  const percent = /^(\d{1,3}(?:[.,]\d{1,3})?) ?(?:%|percent)$/.exec(said)
  return percent ? sensible(Number(percent[1]?.replace(",", ".")) / 100) : null
}

function sensible(share: number): number | null {
  return share > 0 && share <= 1 ? share : null
}
