import { type FoundForm, formsIn } from "../support/forms-in.ts"

/** A form as it was sent, and how to send it again. */
export interface Sent {
  path: string
  fields: readonly (readonly [name: string, value: string])[]
  /** what makes the same form sent twice one action */
  key: string
}

/** What came back for a form: 303 is done, with the page that comes next. */
export interface Answer {
  status: number
  next: string | null
  /** the sentences that say what is wrong */
  problems: string[]
}

/** A page's forms that change something. @throws when the studio does not answer */
export async function formsOn(url: string, path: string): Promise<{ status: number; forms: FoundForm[] }> {
  const answer = await fetch(url + path)
  const html = await answer.text()
  const at = new URL(answer.url)
  return {
    status: answer.status,
    forms: formsIn(html, at.pathname + at.search).filter((form) => form.method === "post"),
  }
}

/** Where a page's links lead that begin so. @throws when the studio does not answer */
export async function linksOn(url: string, path: string, start: string): Promise<string[]> {
  const html = await (await fetch(url + path)).text()
  return [...new Set([...html.matchAll(/ href="(\/[^"#?]*)/g)].map((found) => found[1]!))].filter((link) =>
    link.startsWith(start),
  )
}

/** A form filled in: what is given takes the place of what stands in it. Of buttons, only one that is named is pressed. */
export function filledIn(form: FoundForm, given: Readonly<Record<string, string>> = {}): Sent {
  const untouched = form.fields.filter((field) => field.type !== "button" && !(field.name in given))
  return {
    path: form.path,
    fields: [...untouched.map((field) => [field.name, field.value] as const), ...Object.entries(given)],
    key: form.fields.find((field) => field.name === "key")?.value ?? "",
  }
}

/** Sends a form as its page would. @throws when the studio does not answer */
export async function send(url: string, { path, fields }: Sent): Promise<Answer> {
  const answer = await fetch(url + path, {
    method: "POST",
    redirect: "manual",
    headers: {
      Origin: url,
      "Sec-Fetch-Site": "same-origin",
      "Content-Type": "application/x-www-form-urlencoded",
    },
    body: new URLSearchParams(fields.map(([name, value]) => [name, value])).toString(),
  })
  const html = await answer.text()
  return {
    status: answer.status,
    next: answer.headers.get("location"),
    problems: [...html.matchAll(/<ul class="problems">([\s\S]*?)<\/ul>/g)].flatMap(([, list]) =>
      [...list!.matchAll(/<li>([\s\S]*?)<\/li>/g)].map((found) => found[1]!.replace(/<[^>]+>/g, "").trim()),
    ),
  }
}
