/** The fields of the editor as a browser would send them. */
export function fieldsOf(html: string): Record<string, string> {
  const fields: Record<string, string> = {}
  const form = html.slice(html.indexOf("data-editor"))
  const text = (value: string) =>
    value
      .replaceAll("&quot;", '"')
      .replaceAll("&lt;", "<")
      .replaceAll("&gt;", ">")
      .replaceAll("&#x27;", "'")
      .replaceAll("&amp;", "&")
  for (const [tag, name] of form.matchAll(/<input[^>]* name="([^"]+)"[^>]*>/g)) {
    if (/type="checkbox"/.test(tag!) && !/ checked/.test(tag!)) continue
    fields[name!] = text(/ value="([^"]*)"/.exec(tag!)?.[1] ?? "")
  }
  for (const [, name, options] of form.matchAll(/<select[^>]* name="([^"]+)"[^>]*>(.*?)<\/select>/gs))
    fields[name!] = /<option value="([^"]*)" selected>/.exec(options!)?.[1] ?? ""
  return fields
}
