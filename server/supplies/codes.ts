/**
 * A code as it is kept and looked up: a trade item number with a right check digit in its 14-digit form, so that
 * UPC-A, EAN-13 and the number inside a QR code are one; any other code as it reads.
 */
export function keptCode(code: string): string {
  const said = code.trim()
  const digits = said.replace(/[\s-]/g, "")
  return isItemNumber(digits) ? digits.padStart(14, "0") : said
}

/** GS1 General Specifications 7.9: digits weighted 3 and 1 from the right, together a multiple of ten. */
function isItemNumber(digits: string): boolean {
  if (!/^(?:\d{8}|\d{12,14})$/.test(digits)) return false
  const sum = [...digits]
    .reverse()
    .reduce((total, digit, index) => total + Number(digit) * (index % 2 === 0 ? 1 : 3), 0)
  return sum % 10 === 0
}
