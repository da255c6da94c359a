declare module "gs1-barcode-parser-mod" {
  /** @throws a string that says what is wrong */
  export function parseBarcode(barcode: string): {
    codeName: string
    parsedCodeItems: { ai: string; data: unknown; raw: string; isoDate: string; unit: string }[]
  }
}
