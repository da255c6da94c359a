/**
 * What a symbology identifier in front of the data says (ISO/IEC 15424): an element string, a trade item number
 * of so many digits, or anything at all.
 */
export type Carried = "elements" | 13 | 8 | "anything"

/**
 * Takes off the symbology identifier that a scanner may send in front: "]C1", "]d2", "]Q3", "]e0" (GS1-128, GS1
 * DataMatrix, GS1 QR, GS1 DataBar), "]E0" and "]E4" (EAN/UPC of 13 and 8 digits), and those of the same bars
 * with free data.
 *
 * @returns null when there is none
 */
export function symbologyIdentifier(text: string): { carried: Carried; data: string } | null {
  const [, letter, modifier] = /^\]([ACEILQde])([0-9])/.exec(text) ?? []
  if (letter === undefined || modifier === undefined) return null
  return { carried: carriedBy(letter + modifier), data: text.slice(3) }
}

function carriedBy(identifier: string): Carried {
  switch (identifier) {
    case "C1":
    case "d2":
    case "Q3":
    case "e0":
      return "elements"
    case "E0":
      return 13
    case "E4":
      return 8
    default:
      return "anything"
  }
}
