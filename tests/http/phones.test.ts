import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs"
import https from "node:https"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { pino } from "pino"
import request from "supertest"
import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { createApp, createPhoneApp } from "../../server/app.ts"
import { keptCertificate } from "../../server/devices/certificate.ts"
import { listenOnNetwork, type NetworkListener, networkAddress } from "../../server/devices/listener.ts"
import { PairingDesk } from "../../server/devices/pairing.ts"
import type { Network } from "../../server/devices/routes.ts"
import { todayOf } from "../../server/ledger/studio.ts"
import { packById } from "../../server/supplies/service.ts"
import { bundleAssets } from "../../server/web/assets.ts"
import { bottleWithCode } from "../support/receiving-fixtures.ts"
import { testStudio } from "../support/studio.ts"
import { cookiesOf, type Listening, listen } from "./listening.ts"
import { keysIn } from "./some-rooms.ts"

const folder = mkdtempSync(join(tmpdir(), "lotcup-phones-"))
const assets = bundleAssets()
const logger = pino({ level: "silent" })
const studio = testStudio({ name: "Harbour Lane Cups" })
const network: Network = { desk: new PairingDesk(), reach: () => phones }
let computer: Listening
let phones: NetworkListener
let ca: string

beforeAll(async () => {
  // the certificate is looked at by a client that knows the real day
  studio.setNow(new Date().toISOString())
  computer = await listen((port) => createApp(studio, { port, logger, assets, network }))
  phones = await listenOnNetwork(studio, { address: "127.0.0.1", port: 0, folder }, (port) =>
    createPhoneApp(studio, {
      port,
      logger,
      assets,
      network,
      reached: () => ({ scheme: "https", names: ["127.0.0.1"], port: port() }),
    }),
  )
  ca = readFileSync(join(folder, "lan", "certificate.pem"), "utf8")
})
afterAll(async () => {
  phones.close()
  await computer.close()
  rmSync(folder, { recursive: true, force: true })
})

const origin = () => phones.url.slice(0, -1)
const ask = (path: string, cookie = "") => request(origin()).get(path).ca(ca).set("Cookie", cookie)
const send = (path: string, fields: Record<string, string>, cookie = "") =>
  request(origin()).post(path).ca(ca).set("Origin", origin()).set("Cookie", cookie).type("form").send(fields)

/** The code that the computer's page shows, asked for with its own button. */
async function codeFromComputer(): Promise<string> {
  const [key = ""] = keysIn((await computer.get("/setup/phones")).text)
  await computer.post("/setup/phones/code", { key }).expect(303)
  return network.desk.current(studio.now().epochMilliseconds)?.code ?? ""
}

async function pair(name: string): Promise<string> {
  const answer = await send("/pair", { code: await codeFromComputer(), name }).expect(303)
  return cookiesOf(answer)
}

describe("a phone that is not let in", () => {
  test.each(["/", "/shelf", "/receive", "/history", "/setup/phones", "/cups/T1", "/nothing-here"])(
    "gets nothing of %s but the way to the pairing page",
    async (path) => {
      const answer = await ask(path).set("Accept", "text/html").expect(302)
      expect(answer.headers.location).toBe("/pair")
    },
  )

  test("reads nothing of the studio on the pairing page, not even its name", async () => {
    const { text } = await ask("/pair").expect(200)
    expect(text).toContain("Code on the computer")
    expect(text).not.toContain("Harbour Lane")
    expect(text).not.toContain("/shelf")
  })

  test("changes nothing: a write is refused before it is read", async () => {
    const before = actions()
    await send("/receive", { key: "a-key" }).expect(401)
    await send("/setup/phones/code", { key: "a-key" }).expect(401)
    expect(actions()).toBe(before)
  })

  test("is not believed with a made-up token or another cookie's name", async () => {
    await ask("/shelf", `__Host-lotcup-device=${"a".repeat(43)}`).expect(302)
    await ask("/shelf", "lotcup-device=anything").expect(302)
  })

  test("is not taken for another by what a proxy would say of it", async () => {
    await ask("/shelf")
      .set("X-Forwarded-For", "127.0.0.1")
      .set("X-Forwarded-Host", "127.0.0.1:4180")
      .expect(302)
    await ask("/shelf")
      .set("X-Forwarded-Proto", "http")
      .set("Forwarded", "for=127.0.0.1;proto=http")
      .expect(302)
  })
})

describe("a code from the computer", () => {
  beforeEach(() => anHourLater())

  test("lets one phone in, for daily work, and is then used up", async () => {
    const code = await codeFromComputer()
    const first = await send("/pair", { code: code.toLowerCase(), name: "Bench phone" }).expect(303)
    const cookie = cookiesOf(first)
    expect(String(first.headers["set-cookie"])).toMatch(
      /__Host-lotcup-device=[\w-]{43}; Max-Age=\d+; Path=\/; Expires=[^;]+; HttpOnly; Secure; SameSite=Strict/,
    )
    await ask("/shelf", cookie).expect(200)
    await send("/pair", { code, name: "Another phone" }).expect(403)
  })

  test("stands in the page as a picture whose address carries it behind the #, where no server sees it", async () => {
    const code = await codeFromComputer()
    const { text } = await computer.get("/setup/phones").expect(200)
    expect(text).toContain(`${code.slice(0, 5)} ${code.slice(5)}`)
    expect(text).toContain(phones.fingerprint)
    expect(text).toContain("<svg")
  })

  test("is good for ten minutes", async () => {
    const code = await codeFromComputer()
    studio.setNow(studio.now().add({ minutes: 10 }).toString())
    await send("/pair", { code, name: "Late phone" }).expect(403)
  })

  test("is kept only as a hash once it has become a token", async () => {
    const cookie = await pair("Hashed phone")
    const token = /__Host-lotcup-device=([\w-]+)/.exec(cookie)?.[1] ?? ""
    const rows = JSON.stringify(studio.file.allText("SELECT * FROM device"))
    expect(token).not.toBe("")
    expect(rows).not.toContain(token)
  })
})

describe("a paired phone", () => {
  beforeEach(() => anHourLater())

  test("is told that pairing others is done at the computer", async () => {
    const cookie = await pair("Helper's phone")
    const answer = await ask("/setup/phones", cookie).expect(403)
    await ask("/setup/bring-in", cookie).expect(403)
    await send("/setup/bring-in/supplies/upload", {}, cookie).expect(403)
    expect(answer.text).toContain("This is done at the studio")
    await send("/setup/phones/code", { key: "x" }, cookie).expect(403)
  })

  test("takes a thing in over its own line, under its own name; one that is not let in takes in nothing", async () => {
    const cookie = await pair("Receiving phone")
    const pack = bottleWithCode(studio, "Phone teal", [])
    const { supplyId } = packById(studio, pack).contents[0]!
    const receivedOn = todayOf(studio)
    const begun = await send(
      "/receive/deliveries",
      { key: "phone-begins", sellerId: "", newSeller: "Harbour Supply", receivedOn },
      cookie,
    ).expect(303)
    const delivery = new URL(begun.headers.location ?? "", origin()).searchParams.get("delivery")
    const path = `/receive/confirm?delivery=${delivery}&pack=${pack}`
    const line = {
      key: "phone-receives",
      count: "1",
      price: "9.50",
      "lots[0][supplyId]": String(supplyId),
      "lots[0][number]": "P-1",
    }
    await send(path, line).expect(401)
    const done = await send(path, line, cookie).expect(303)
    const page = await ask(String(done.headers.location), cookie).expect(200)
    expect(page.text).toContain("Phone teal, lot P-1")
    expect(studio.file.firstText("SELECT device, summary FROM action ORDER BY id DESC LIMIT 1")).toEqual({
      device: "Receiving phone",
      summary: "Phone teal pack received, lot P-1",
    })
  })

  test("is refused when its page is another site's", async () => {
    const cookie = await pair("Wandering phone")
    const before = actions()
    await request(origin())
      .post("/receive/typed")
      .ca(ca)
      .set("Origin", "https://elsewhere.example")
      .set("Cookie", cookie)
      .expect(403)
    expect(await statusUnderName("lotcup.example", cookie)).toBe(421)
    expect(actions()).toBe(before)
  })

  test("gets nothing more once it is thrown out", async () => {
    const cookie = await pair("Lost phone")
    await ask("/shelf", cookie).expect(200)
    const { text } = await computer.get("/setup/phones")
    const row = text.split("<tr>").find((one) => one.includes("Throw out: Lost phone")) ?? ""
    const id = /action="\/setup\/phones\/(\d+)\/remove"/.exec(row)?.[1]
    await computer.post(`/setup/phones/${id}/remove`, { key: "throw-out" }).expect(303)
    await ask("/shelf", cookie).expect(302)
  })

  test("has its own name, so that the history can tell two phones apart", async () => {
    await pair("Twin")
    await pair("Twin")
    const names = studio.file.allText<{ name: string }>(
      "SELECT name FROM device WHERE name LIKE 'Twin%' ORDER BY id",
    )
    expect(names).toEqual([{ name: "Twin" }, { name: "Twin 2" }])
  })
})

describe("guessing codes", () => {
  test("each wrong one doubles the wait; after eight nobody is let in for a quarter of an hour", () => {
    const desk = new PairingDesk()
    const { code } = desk.handOut(0)
    let now = 0
    for (let wrong = 1; wrong <= 7; wrong++) {
      expect(() => desk.take("WRONG", now)).toThrow("not the one")
      const wait = 1000 * 2 ** (wrong - 1)
      expect(() => desk.take(code, now + wait - 1)).toThrow("Too many wrong codes")
      now += wait
    }
    expect(() => desk.take("WRONG", now)).toThrow("not the one")
    expect(() => desk.take(code, now + 13 * 60_000)).toThrow("Wait 2 minutes")
    expect(() => desk.take(code, now + 15 * 60_000)).toThrow("not the one")
  })

  test("a right one at the first try is taken, whatever was typed between its letters", () => {
    const desk = new PairingDesk()
    const { code } = desk.handOut(0)
    expect(() => desk.take(` ${code.slice(0, 5)}-${code.slice(5)} `, 1000)).not.toThrow()
    expect(desk.current(1000)).toBeNull()
  })
})

describe("the certificate", () => {
  const now = new Date("2026-12-01T12:00:00Z")
  const fresh = () => mkdtempSync(join(folder, "cert-"))

  test("is kept from one start to the next", async () => {
    const where = fresh()
    const first = await keptCertificate(where, "192.168.7.20", now)
    expect(await keptCertificate(where, "192.168.7.20", now)).toEqual(first)
  })

  test("is made anew when the address changes, or when it ends within thirty days", async () => {
    const where = fresh()
    const first = await keptCertificate(where, "192.168.7.20", now)
    const moved = await keptCertificate(where, "192.168.7.21", now)
    expect(moved.fingerprint).not.toBe(first.fingerprint)
    const later = await keptCertificate(where, "192.168.7.21", new Date("2027-12-10T12:00:00Z"))
    expect(later.fingerprint).not.toBe(moved.fingerprint)
  })

  test("is made anew when key and certificate do not belong together", async () => {
    const where = fresh()
    const first = await keptCertificate(where, "192.168.7.20", now)
    writeFileSync(join(where, "key.pem"), "not a key")
    expect((await keptCertificate(where, "192.168.7.20", now)).fingerprint).not.toBe(first.fingerprint)
  })

  test("has a key that only its owner can read", async () => {
    const where = fresh()
    await keptCertificate(where, "192.168.7.20", now)
    expect(statSync(join(where, "key.pem")).mode & 0o077).toBe(0)
  })
})

test("the network's address is a private one, not the computer's own nor one of the wide world", () => {
  const one = (address: string, internal = false) =>
    ({ address, internal, family: "IPv4", netmask: "255.255.255.0", mac: "", cidr: null }) as const
  expect(
    networkAddress({ lo: [one("127.0.0.1", true)], out: [one("203.0.113.7")], home: [one("192.168.1.20")] }),
  ).toBe("192.168.1.20")
  expect(networkAddress({ lo: [one("127.0.0.1", true)], out: [one("172.32.0.1")] })).toBeNull()
})

/** As a name that someone pointed at this computer: the certificate is not the question here. */
function statusUnderName(name: string, cookie: string): Promise<number> {
  return new Promise((resolve, reject) => {
    https
      .get(
        `${origin()}/shelf`,
        { rejectUnauthorized: false, headers: { Host: name, Cookie: cookie } },
        (answer) => {
          answer.resume()
          resolve(answer.statusCode ?? 0)
        },
      )
      .on("error", reject)
  })
}

/** Wrong codes of one test must not make the next one wait. */
function anHourLater(): void {
  studio.setNow(studio.now().add({ hours: 1 }).toString())
}

function actions(): number {
  return studio.file.firstText<{ n: number }>("SELECT count(*) AS n FROM action")?.n ?? -1
}
