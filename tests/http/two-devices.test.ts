import { pino } from "pino"
import request from "supertest"
import { beforeEach, expect, test } from "vitest"
import { createPhoneApp } from "../../server/app.ts"
import { DEVICE_COOKIE } from "../../server/devices/guard.ts"
import { PairingDesk } from "../../server/devices/pairing.ts"
import { letIn } from "../../server/devices/service.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { packById } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { bundleAssets } from "../../server/web/assets.ts"
import { bottleWithCode } from "../support/receiving-fixtures.ts"
import { type TestStudio, TODAY, testStudio } from "../support/studio.ts"
import { type Listening, listen } from "./listening.ts"

const assets = bundleAssets()
let studio: TestStudio
let here: Listening
let teal: number
let supplyId: number
let keys = 0

beforeEach(async () => {
  studio = testStudio()
  teal = bottleWithCode(studio, "Teal", [])
  supplyId = packById(studio, teal).contents[0]!.supplyId
  const network = { desk: new PairingDesk(), reach: () => null }
  here = await listen((port) =>
    createPhoneApp(studio, {
      port,
      logger: pino({ level: "silent" }),
      assets,
      network,
      reached: () => ({ scheme: "http", names: ["127.0.0.1"], port: port() }),
    }),
  )
  return () => here.close()
})

/** A phone that was let in, with its own cookie. */
function device(name: string) {
  const cookie = `${DEVICE_COOKIE}=${letIn(studio, name).token}`
  return {
    get: (path: string) => request(here.url).get(path).set("Cookie", cookie),
    post: (path: string, fields: Record<string, string>) => {
      keys += 1
      return request(here.url)
        .post(path)
        .set("Cookie", cookie)
        .set("Origin", here.url)
        .type("form")
        .send({ key: `two-devices-${keys}`, ...fields })
    },
  }
}
type Device = ReturnType<typeof device>

async function begin(on: Device, newSeller: string): Promise<string> {
  const answer = await on.post("/receive/deliveries", { sellerId: "", newSeller, receivedOn: TODAY })
  expect(answer.status, answer.text).toBe(303)
  return new URL(answer.headers.location!, here.url).searchParams.get("delivery")!
}

function takeIn(on: Device, delivery: string, lot: string) {
  return on.post(`/receive/confirm?delivery=${delivery}&pack=${teal}`, {
    count: "1",
    price: "9.50",
    "lots[0][supplyId]": String(supplyId),
    "lots[0][number]": lot,
  })
}

const lots = () => onHand(studio.file, "America/Chicago").map((one) => one.lotNumber)
const devicesOf = (kind: string) =>
  studio.file
    .allText<{ device: string }>("SELECT device FROM action WHERE kind = ? ORDER BY id", [kind])
    .map((row) => row.device)

test("a delivery left half done on one device is taken up on another, and the history knows who did what", async () => {
  const [phone, tablet] = [device("Ana's phone"), device("Bench tablet")]
  const delivery = await begin(phone, "Harbour Supply")
  await takeIn(phone, delivery, "T-1")

  // the other device opens Receive and is there at once
  const page = await tablet.get("/receive")
  expect(page.text).toContain("From Harbour Supply")
  expect(page.text).toContain("lot T-1")
  await takeIn(tablet, delivery, "T-2")
  await tablet.post(`/receive/deliveries/${delivery}/close`, { shipping: "", tax: "" })
  expect((await phone.get(`/receive?delivery=${delivery}`)).text).toContain("This delivery is finished")
  expect(devicesOf("receive")).toEqual(["Ana's phone", "Bench tablet"])
  expect(devicesOf("finish delivery")).toEqual(["Bench tablet"])
})

test("two devices take in at once, into one delivery: nothing is lost and nothing twice", async () => {
  const [phone, tablet] = [device("Ana's phone"), device("Bench tablet")]
  const delivery = await begin(phone, "Harbour Supply")
  const answers = await Promise.all(
    Array.from({ length: 12 }, (_, n) => takeIn(n % 2 === 0 ? phone : tablet, delivery, `T-${n % 3}`)),
  )
  expect(answers.map((one) => one.status)).toEqual(Array(12).fill(303))
  expect(lots()).toHaveLength(12)
  expect(new Set(onHand(studio.file, "America/Chicago").map((one) => one.code)).size).toBe(12)
  // the same lot number from two devices is one lot
  expect(studio.file.firstText("SELECT count(*) AS n FROM lot")).toEqual({ n: 3 })
  expect(devicesOf("receive").sort()).toEqual([
    ...Array<string>(6).fill("Ana's phone"),
    ...Array<string>(6).fill("Bench tablet"),
  ])
  expect(verify(studio.file)).toEqual([])
})

test("into two deliveries: each device is asked which one, and sees who began the other", async () => {
  const [phone, tablet] = [device("Ana's phone"), device("Bench tablet")]
  const first = await begin(phone, "Harbour Supply")
  const second = await begin(tablet, "Corner shop")
  await Promise.all([takeIn(phone, first, "H-1"), takeIn(tablet, second, "C-1"), takeIn(phone, first, "H-2")])

  const page = await phone.get("/receive")
  expect(page.text).toContain("Go on with a delivery that is not finished")
  expect(page.text).toMatch(
    new RegExp(`/receive\\?delivery=${first}".*Harbour Supply.*2 lines, begun on Ana&#x27;s phone`),
  )
  expect(page.text).toMatch(
    new RegExp(`/receive\\?delivery=${second}".*Corner shop.*1 line, begun on Bench tablet`),
  )
  expect((await phone.get(`/receive?delivery=${second}`)).text).toContain("lot C-1")

  // one of them is finished: the other is where a scan goes again
  await tablet.post(`/receive/deliveries/${second}/close`, { shipping: "4.00", tax: "" })
  expect((await phone.get("/receive")).text).toContain("From Harbour Supply")
  expect(verify(studio.file)).toEqual([])
})

test("what one device finished, another cannot add to without opening it again", async () => {
  const [phone, tablet] = [device("Ana's phone"), device("Bench tablet")]
  const delivery = await begin(phone, "Harbour Supply")
  await tablet.post(`/receive/deliveries/${delivery}/close`, { shipping: "", tax: "" })
  const late = await takeIn(phone, delivery, "T-9")
  expect(late.status).toBe(422)
  expect(late.text).toContain("This delivery is closed. Open it again, or begin a new one.")
  expect(lots()).toEqual([])
})
