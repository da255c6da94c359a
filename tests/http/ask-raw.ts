import { request } from "node:http"

/** A request as anything may send it. A header of null is left out; those of our own pages are there unless given. */
export interface Asked {
  method: string
  path: string
  headers?: Record<string, string | null>
  body?: string
}

export interface Answer {
  status: number
  location: string | null
  text: string
}

/** Asks the server of a port, past everything a browser or a library would put right. */
export function askRaw(port: number, asked: Asked): Promise<Answer> {
  const body = Buffer.from(asked.body ?? "")
  const own: Record<string, string | null> = {
    host: `127.0.0.1:${port}`,
    origin: `http://127.0.0.1:${port}`,
    "sec-fetch-site": "same-origin",
    ...(body.length === 0
      ? {}
      : { "content-type": "application/x-www-form-urlencoded", "content-length": String(body.length) }),
    ...asked.headers,
  }
  const headers = Object.fromEntries(
    Object.entries(own).filter((one): one is [string, string] => one[1] !== null),
  )
  return new Promise((resolve, reject) => {
    const sent = request(
      { port, host: "127.0.0.1", method: asked.method, path: asked.path, headers },
      (answer) => {
        const parts: Buffer[] = []
        answer.on("data", (part: Buffer) => parts.push(part))
        answer.on("error", reject)
        answer.on("end", () =>
          resolve({
            status: answer.statusCode ?? 0,
            location: answer.headers.location ?? null,
            text: Buffer.concat(parts).toString(),
          }),
        )
      },
    )
    sent.on("error", reject)
    sent.end(body)
  })
}
