import { stringify } from "csv-stringify/sync"

/**
 * A table for a spreadsheet (RFC 4180). Text that a spreadsheet would take for a formula begins with an apostrophe
 * (OWASP, "CSV Injection"); numbers stay numbers.
 *
 * @param columns heads in their order; a row says each of them
 */
export function csvOf<Column extends string>(
  columns: readonly Column[],
  rows: readonly Readonly<Record<Column, string | number>>[],
): string {
  return stringify([...rows], {
    header: true,
    columns: [...columns],
    record_delimiter: "windows",
    escape_formulas: true,
  })
}
