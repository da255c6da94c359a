import { createServer } from "node:http"
import type { AddressInfo } from "node:net"
import type { Express } from "express"
import request, { type Test } from "supertest"

/** A running application, asked the way its own pages ask it. */
export interface Listening {
  port: number
  url: string
  get: (path: string) => Test
  /** a form sent from one of our pages: `{ "uses[0][amount]": "5" }` */
  post: (path: string, fields?: Record<string, string | string[]>) => Test
  close: () => Promise<void>
}

/** Starts an application on a free port of 127.0.0.1; it learns the port as the real one does. */
export async function listen(make: (port: () => number) => Express): Promise<Listening> {
  let port = 0
  const server = createServer(make(() => port))
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve))
  port = (server.address() as AddressInfo).port
  const url = `http://127.0.0.1:${port}`
  return {
    port,
    url,
    get: (path) => request(url).get(path),
    post: (path, fields = {}) =>
      request(url)
        .post(path)
        .set("Sec-Fetch-Site", "same-origin")
        .set("Origin", url)
        .type("form")
        .send(fields),
    close: () =>
      new Promise((resolve, reject) => server.close((error) => (error ? reject(error) : resolve()))),
  }
}

/** The cookies an answer set, as a browser sends them back. */
export function cookiesOf(answer: { headers: Record<string, unknown> }): string {
  const set = answer.headers["set-cookie"]
  return (Array.isArray(set) ? set : []).map((cookie) => String(cookie).split(";")[0]).join("; ")
}
