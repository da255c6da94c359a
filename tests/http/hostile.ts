/** What no field of any form can hold. */
export const NEVER: Record<string, string | readonly string[]> = {
  "a hundred thousand digits": "9".repeat(100_000),
  "a NUL": "a\u0000b",
  "a bell": "\u0007",
  "two values": ["1\u0000", "<b>2</b>\u0000"],
}

export const SCRIPT = `<script>alert("lotcup")</script>`
export const QUOTES = `x'); DROP TABLE movement; --`
export const ATTRIBUTE = `" autofocus onfocus="alert(1)`

/** Nonsense in most fields, but a text like any other where words are asked for. */
export const ODD: Record<string, string> = {
  "a script": SCRIPT,
  "SQL quotes": QUOTES,
  "an attribute": ATTRIBUTE,
  "a template": "{{7*7}}{{{constructor}}}",
  "a prototype's name": "__proto__",
  "no number": "NaN",
  "a number below nothing": "-1",
  "more than there are numbers": "1e309",
  "a path": "../../../../etc/passwd",
  "text turned round": "\u202eabc\u2066",
  "a pile of signs": "z\u0310\u0320\u0330".repeat(20),
  "five thousand letters": "a".repeat(5_000),
  "another site": "//example.com/",
}

/** Names of fields no form has, some of which would reach into every object where names are taken at their word. */
export const NAMES: Record<string, string> = {
  "__proto__[polluted]": "yes",
  "constructor[prototype][polluted]": "yes",
  "lines[0][__proto__][polluted]": "yes",
  toString: "yes",
  "lines[999999999]": "x",
  "a[b][c][d][e][f][g]": "deep",
}

/** Steps of an address in place of an id, a code or a serial. */
export const STEPS = [
  "0",
  "-1",
  "999999999",
  "99999999999999999999",
  "1.5",
  "1e3",
  "NaN",
  "__proto__",
  "constructor",
  "%00",
  "%0d%0aSet-Cookie:%20a=b",
  encodeURIComponent(SCRIPT),
  encodeURIComponent("1' OR '1'='1"),
  "..%2f..%2fetc%2fpasswd",
  "%E0%A4%A",
  "%F0%9F%A7%AA",
  "a".repeat(3_000),
]

/** Bodies that say they are JSON. */
export const JSONS = [
  "null",
  "[]",
  "7",
  '"x"',
  "{",
  '{"key":{"a":1}}',
  '{"key":["a"]}',
  '{"__proto__":{"polluted":"yes"}}',
  '{"key":"\\ud800"}',
]

/** Signs of the inside of the program in an answer. */
export const INSIDE =
  /\n\s+at .+:\d+:\d+|node_modules|Sqlite|SQLITE_|SELECT |INSERT INTO|ZodError|TypeError|\/server\//
