import type { Scan } from "./codes.ts"

/**
 * What a scanner typed, with the symbology if it told it: many send the AIM symbology identifier in front
 * (ISO/IEC 15424), "]C1" for a GS1-128. Without one, or with one of bars that are not read here, it is as typed.
 */
export function scanTyped(typed: string): Scan {
  const [, identifier = "", code = ""] = /^\]([A-Za-z][0-9A-Za-z])(.+)$/s.exec(typed) ?? []
  switch (identifier) {
    case "C0":
      return { code, symbology: "Code 128" }
    case "C1":
      return { code, symbology: "GS1-128" }
    case "d1":
      return { code, symbology: "DataMatrix" }
    case "d2":
      return { code, symbology: "GS1 DataMatrix" }
    case "Q0":
    case "Q1":
    case "Q2":
      return { code, symbology: "QR" }
    case "Q3":
      return { code, symbology: "GS1 QR" }
    case "e0":
      // one identifier for the whole family; only the expanded ones hold more than the item
      return { code, symbology: /^01[0-9]{14}$/.test(code) ? "DataBar" : "DataBar Expanded" }
    case "E0":
      return /^0[0-9]{12}$/.test(code)
        ? { code: code.slice(1), symbology: "UPC-A" }
        : { code, symbology: "EAN-13" }
    case "E4":
      return { code, symbology: "EAN-8" }
    case "I0":
    case "I1":
      return /^[0-9]{14}$/.test(code) ? { code, symbology: "ITF-14" } : { code, symbology: "typed" }
    case "A0":
    case "A1":
      return { code, symbology: "Code 39" }
    default:
      return { code: typed, symbology: "typed" }
  }
}
