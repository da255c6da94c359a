/** An address of this room: `address("/receive/confirm", { delivery: 3, pack: 7 })`. What is null is left out. */
export function address(path: string, query: Record<string, string | number | null>): string {
  const given = Object.entries(query).filter((pair): pair is [string, string | number] => pair[1] !== null)
  const search = new URLSearchParams(given.map(([name, value]) => [name, String(value)])).toString()
  return search === "" ? path : `${path}?${search}`
}
