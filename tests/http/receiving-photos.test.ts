import sharp from "sharp"
import request from "supertest"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { historyRoutes } from "../../server/history/routes.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { containerByCode } from "../../server/shelf/service.ts"
import { packById } from "../../server/supplies/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { bottleWithCode, deliveryFrom } from "../support/receiving-fixtures.ts"
import { testStudio } from "../support/studio.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

const studio = testStudio()
const teal = bottleWithCode(studio, "Teal", [])
const { supplyId } = packById(studio, teal).contents[0]!
const { deliveryId } = deliveryFrom(studio, "Harbour Supply")
const confirm = `/receive/confirm?delivery=${deliveryId}&pack=${teal}`
let here: Listening
let keys = 0

beforeAll(async () => {
  here = await listenWith(studio, [receivingRoutes, shelfRoutes, tracingRoutes, historyRoutes])
})
afterAll(() => here.close())

const key = () => {
  keys += 1
  return `photo-form-${keys}`
}

/** A label as a phone takes it, with the place it was taken at in its file. */
const label = (colour: string) =>
  sharp({ create: { width: 300, height: 200, channels: 3, background: colour } })
    .withExif({ IFD3: { GPSLatitudeRef: "N", GPSLatitude: "51/1 30/1 0/1" } })
    .jpeg()
    .toBuffer()

function send(body: Buffer | string, type: string) {
  return request(here.url)
    .post("/receive/photos")
    .set("Origin", here.url)
    .set("Sec-Fetch-Site", "same-origin")
    .set("Accept", "application/json")
    .set("Content-Type", type)
    .send(body)
}

function takeIn(fields: Record<string, string>) {
  return here.post(confirm, {
    key: key(),
    count: "1",
    price: "",
    "lots[0][supplyId]": String(supplyId),
    "lots[0][number]": "T-1",
    ...fields,
  })
}

const newest = () =>
  studio.file.firstText<{ code: string; lot_id: number }>(
    "SELECT code, lot_id FROM container ORDER BY id DESC LIMIT 1",
  )!
const photos = () => studio.file.firstText<{ n: number }>("SELECT count(*) AS n FROM photo")!.n

test("a photo is kept with its receipt and stands on the container's and the lot's page", async () => {
  const { photoId } = (await send(await label("#364"), "image/jpeg")).body
  const taken = await takeIn({ photo: String(photoId) })
  expect(taken.status, taken.text).toBe(303)
  const { code, lot_id } = newest()
  for (const page of [`/containers/${code}`, `/lots/${lot_id}`])
    expect((await here.get(page)).text, page).toContain(
      `<img src="/photos/${photoId}" alt="Photo of the label"`,
    )
})

test("it is served as a picture and nothing else, without the place it was taken at", async () => {
  const { photoId } = (await send(await label("#643"), "image/jpeg")).body
  const { headers, body } = await here.get(`/photos/${photoId}`)
  expect(headers["content-type"]).toBe("image/jpeg")
  expect(headers["x-content-type-options"]).toBe("nosniff")
  expect(headers["content-security-policy"]).toBe("default-src 'none'; sandbox")
  expect(headers["content-disposition"]).toBe("inline")
  const metadata = await sharp(body as Buffer).metadata()
  expect([metadata.width, metadata.height, metadata.exif]).toEqual([300, 200, undefined])
})

test("what it is is told by its bytes, whatever it is sent as", async () => {
  const png = await sharp({ create: { width: 9, height: 9, channels: 3, background: "#fff" } })
    .png()
    .toBuffer()
  const { photoId } = (await send(png, "image/jpeg")).body
  expect((await here.get(`/photos/${photoId}`)).headers["content-type"]).toBe("image/png")
})

test("the same photo again is the same", async () => {
  const photo = await label("#111")
  const first = (await send(photo, "image/jpeg")).body
  const had = photos()
  expect((await send(photo, "image/jpeg")).body).toEqual(first)
  expect(photos()).toBe(had)
})

test("one that no receipt took is thrown away a day later; one that was taken stays", async () => {
  const kept = (await send(await label("#222"), "image/jpeg")).body.photoId
  await takeIn({ photo: String(kept), "lots[0][number]": "T-2" })
  const left = (await send(await label("#333"), "image/jpeg")).body.photoId
  studio.setNow("2026-12-03")
  await send(await label("#444"), "image/jpeg")
  expect((await here.get(`/photos/${left}`)).status).toBe(404)
  expect((await here.get(`/photos/${kept}`)).status).toBe(200)
  const late = await takeIn({ photo: String(left), "lots[0][number]": "T-3" })
  expect(late.status).toBe(422)
  expect(late.text).toContain("The photo is not kept any more. Take it again.")
})

test("a photo is put to a lot later, and that is undone", async () => {
  const { code, lot_id } = newest()
  const { photoId } = (await send(await label("#555"), "image/jpeg")).body
  const path = `/containers/${code}`
  const answer = await here.post(`/lots/${lot_id}/photo`, {
    key: key(),
    photo: String(photoId),
    returnTo: path,
  })
  expect(answer.headers.location).toBe(path)
  const page = await here.get(path).set("Cookie", cookiesOf(answer))
  expect(page.text).toContain(`/photos/${photoId}`)
  const toast = /<div class="toast".*?<\/form>/s.exec(page.text)![0]
  await here.post(/action="([^"]+)"/.exec(toast)![1]!, { key: keysIn(toast)[0]! })
  expect((await here.get(path)).text).not.toContain(`/photos/${photoId}`)
  expect(containerByCode(studio, code).lotId).toBe(lot_id)
})

describe("what is refused", () => {
  test.each([
    ["a page", Buffer.from("<script>alert(1)</script>"), "image/jpeg", 422, /no photo that can be kept/],
    [
      "a drawing",
      Buffer.from("<svg xmlns='http://www.w3.org/2000/svg'/>"),
      "image/svg+xml",
      422,
      /photo is needed/,
    ],
    ["a form", "photo=1", "application/x-www-form-urlencoded", 422, /photo is needed/],
    ["nothing", Buffer.alloc(0), "image/png", 422, /photo is needed|no photo/],
    ["2 MB and more", Buffer.alloc(2_500_000, 1), "image/jpeg", 413, /more than one form may hold|too large/],
  ])("%s", async (_what, body, type, status, sentence) => {
    const had = photos()
    const answer = await send(body, type)
    expect(answer.status).toBe(status)
    expect(answer.body.sentence).toMatch(sentence)
    expect(photos()).toBe(had)
  })

  test("a photo sent from another site", async () => {
    const answer = await request(here.url)
      .post("/receive/photos")
      .set("Origin", "https://elsewhere.example")
      .set("Content-Type", "image/jpeg")
      .send(await label("#777"))
    expect(answer.status).toBe(403)
  })

  test("a lot or a photo that is not there", async () => {
    expect((await here.post("/lots/999/photo", { key: key(), photo: "1" })).status).toBe(404)
    expect((await here.post("/lots/1/photo", { key: key(), photo: "999" })).status).toBe(422)
    expect((await here.get("/photos/999")).status).toBe(404)
  })
})
