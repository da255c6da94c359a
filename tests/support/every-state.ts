import sharp from "sharp"
import { letIn } from "../../server/devices/service.ts"
import { gtinCheckDigit } from "../../server/domain/gs1.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { type Studio, todayOf } from "../../server/ledger/studio.ts"
import { offcutIn } from "../../server/shelf/service.ts"
import { packById } from "../../server/supplies/service.ts"
import type { Listening } from "../http/listening.ts"
import { sendTable } from "./bring-in.ts"
import { formsIn } from "./forms-in.ts"

/** Addresses of a demo that stands in every state. */
export interface EveryState {
  /** a batch of more cups than the shelf is enough for */
  largeBatch: string
  /** a code that stands on a pack, as it is scanned */
  packCode: string
  /** pages about things in a state of their own, and what only a scanner or a script asks for */
  addresses: string[]
}

/**
 * Brings the demo's things into every state its pages tell apart, by its own forms: an open delivery with a line and
 * a photo; containers sealed, open, on the bench, held, of a held lot, at a place; packs awaited; a draft order, one
 * with a finished cup; a batch the shelf is too small for, split in two; a count with a
 * difference; a copy; a phone.
 */
export async function everyState(studio: Studio, here: Listening): Promise<EveryState> {
  /** Fills a form of a page in, the rest of it as it stands there, and sends it. @returns where that leads */
  const fill = async (address: string, to: string, fields: Record<string, string> = {}) => {
    const page = await here.get(address)
    const form = formsIn(page.text, address).find(({ path }) => path.split("?")[0] === to)
    if (!form) throw new Error(`${address} has no form for ${to}: ${said(page.text)}`)
    const untouched = form.fields.filter(({ type }) => type !== "button")
    const sent = { ...Object.fromEntries(untouched.map(({ name, value }) => [name, value])), ...fields }
    const answer = await here.post(form.path, sent)
    if (answer.status !== 303)
      throw new Error(`POST ${to} was answered ${answer.status}: ${said(answer.text)}`)
    return String(answer.headers.location)
  }
  const today = todayOf(studio)
  const delivery = await fill("/receive", "/receive/deliveries", { sellerId: "1", receivedOn: today })
  const deliveryId = new URL(delivery, here.url).searchParams.get("delivery")
  const confirm = (pack: number) => `/receive/confirm?delivery=${deliveryId}&pack=${pack}`
  const lotNumber = { "lots[0][number]": "P-1", "shared[number]": "P-1" }
  await fill(confirm(4), "/receive/confirm", { ...lotNumber, price: "8.99" })

  const [sealed, open, benched, held, ofHeldLot] = sealedOnes(studio)
  const [toOpen, toBench, toHold] = [open, benched, held].map((code) => `/containers/${code}`)
  await fill(toOpen!, `${toOpen}/open`)
  await fill(toOpen!, `${toOpen}/move`, { place: PLACE })
  await fill(toBench!, `${toBench}/bench`)
  await fill(toHold!, `${toHold}/hold`)
  const lot = `/lots/${lotOf(studio, ofHeldLot)}`
  await fill(lot, `${lot}/hold`)
  await putPhoto(here, lot)

  const cup = freeCup(studio)
  const line = {
    buyer: "Ana Brook",
    "lines[0][designId]": String(cup.designId),
    "lines[0][quantity]": "3",
    "lines[0][dueOn]": "2027-03-01",
    "lines[0][note]": "With a name",
  }
  const draft = await fill("/orders/new", "/orders/new", { ...line, state: "draft" })
  const order = await fill("/orders/new", "/orders/new", { ...line, state: "planned" })
  await fill(order, `${order}/assign`, { cupIds: String(cup.id) })
  const version = one<{ id: number }>(studio, "SELECT max(id) AS id FROM design_version")
  const halfDone = one<{ id: number }>(studio, "SELECT min(batch_id) AS id FROM cup WHERE state = 'in work'")
  const largeBatch = await fill("/batches", "/batches", { versionId: String(version.id), cups: "60" })
  // one of its cups goes on by itself, so that it can come back
  const someCup = one<{ id: number }>(studio, "SELECT max(id) AS id FROM cup WHERE state = 'in work'")
  await fill(`${largeBatch}/apart`, `${largeBatch}/split`, { cupIds: String(someCup.id) })
  await fill("/shopping", "/shopping/ordered")

  const count = await fill("/counting", "/counting")
  const counted = `${count}/containers/${open}`
  await fill(counted, counted, { amount: "", level: "1/2" })

  const sound = await sentTable(here, "Name,Kind,Counted by,Colour,Else\nSea salt,glitter,weight,#ffffff,x\n")
  const wrong = await sentTable(here, "Name,Kind,Counted by\nSea salt,salt,weight\n")

  letIn(studio, "Phone at the bench")
  await fill("/setup/phones", "/setup/phones/code")
  // last, so that all of it is in the copy too
  await fill("/setup/copies", "/setup/copies")

  const packCode = packById(studio, 1).codes[0]!.slice(1)
  return {
    largeBatch,
    packCode,
    addresses: [
      largeBatch,
      `${largeBatch}/apart`,
      `/batches/${halfDone.id}`,
      `/batches/${halfDone.id}/measured/2`,
      `/containers/${packWithOffcut(studio)}`,
      draft,
      order,
      `/cups/${mixedFor(studio)}`,
      ...picturesOf(studio),
      `/trace/supplies/${mixedHardener(studio)}`,
      ...[sealed, open, benched, held, ofHeldLot].map((code) => `/containers/${code}`),
      lot,
      count,
      counted,
      `/shelf/place?name=${encodeURIComponent(PLACE)}`,
      delivery,
      sound,
      wrong,
      `${wrong}/progress.json`,
      `${wrong}/what-is-wrong.csv`,
      "/receive?delivery=1",
      `/receive/lookup?code=${packCode}`,
      `/receive/scan?code=${packCode}`,
      confirm(1),
      confirm(4),
      `/receive/own?code=${sealed}`,
      `/receive/new?delivery=${deliveryId}&code=NEW-42`,
      `/receive/carton?delivery=${deliveryId}&code=${cartonOf(packCode)}`,
      // right as an EAN-8 and as a UPC-E
      `/receive/which?delivery=${deliveryId}&code=01230055`,
      `/go?code=${packCode}`,
      `/go?code=${sharedLotNumber(studio)}`,
      "/forecast?designId=5&quantity=40&dueOn=2027-03-01",
      // a line typed in, which can be kept
      `/what-if?${new URLSearchParams({
        "lines[0][lineId]": "",
        "lines[0][designId]": "1",
        "lines[0][quantity]": "12",
        "lines[0][dueOn]": "2027-03-01",
        "lines[0][on]": "on",
      })}`,
    ],
  }
}

const PLACE = "Shelf A"

/** A table of supplies that was looked over and not brought in. @returns its page */
async function sentTable(here: Listening, text: string): Promise<string> {
  const { to, sentence } = await sendTable(here, "supplies", text)
  if (to === undefined) throw new Error(sentence)
  return to
}

/** As the page's script does: the picture by itself, then the form that names it. */
async function putPhoto(here: Listening, lot: string): Promise<void> {
  const body = await sharp({ create: { width: 40, height: 30, channels: 3, background: "#ddccbb" } })
    .png()
    .toBuffer()
  const headers = { "Content-Type": "image/png", Origin: here.url }
  const kept = await fetch(`${here.url}/receive/photos`, {
    method: "POST",
    headers,
    body: new Uint8Array(body),
  })
  const { photoId } = (await kept.json()) as { photoId: number }
  const answer = await here.post(`${lot}/photo`, { key: "photo-form-1", photo: String(photoId) })
  if (answer.status !== 303) throw new Error(`The photo was not kept: ${said(answer.text)}`)
}

/** The number of a carton of the pack: the packaging indicator in front, another check digit behind. */
function cartonOf(packCode: string): string {
  const body = `1${packCode.slice(0, -1)}`
  return `${body}${gtinCheckDigit(body)}`
}

function sealedOnes(studio: Studio): [string, string, string, string, string] {
  const codes = onHand(studio.file, "America/Chicago")
    .filter((bottle) => bottle.openedOn === null && !bottle.held && bottle.lotNumber !== null)
    .map(({ code }) => code)
  const [a, b, c, d, e] = codes
  if (!a || !b || !c || !d || !e) throw new Error("The demo has not five containers that are sealed.")
  return [a, b, c, d, e]
}

function lotOf(studio: Studio, code: string): number {
  return one<{ id: number }>(studio, "SELECT lot_id AS id FROM container WHERE code = ?", code).id
}

/** A pack of sheets of which the rest of the last one can be put by. */
function packWithOffcut(studio: Studio): string {
  const pack = onHand(studio.file, "America/Chicago").find((one) => offcutIn(studio, one.code) !== null)
  if (!pack) throw new Error("The demo has no pack with an offcut that a piece fits on.")
  return pack.code
}

function sharedLotNumber(studio: Studio): string {
  const { number } = one<{ number: string }>(
    studio,
    "SELECT number FROM lot WHERE number IS NOT NULL GROUP BY number HAVING count(*) > 1",
  )
  return encodeURIComponent(number)
}

function freeCup(studio: Studio): { id: number; designId: number } {
  return one(
    studio,
    `SELECT u.id, v.design_id AS designId FROM cup u JOIN batch b ON b.id = u.batch_id
       JOIN design_version v ON v.id = b.version_id
     WHERE u.state = 'good' AND u.order_line_id IS NULL`,
  )
}

/** A cup with resin on it, mixed for it. */
function mixedFor(studio: Studio): string {
  return one<{ serial: string }>(
    studio,
    "SELECT u.serial FROM mix m JOIN coat_cup c ON c.coat_id = m.coat_id JOIN cup u ON u.id = c.cup_id",
  ).serial
}

/** A hardener with cups, lots and opened bottles to set side by side. */
function mixedHardener(studio: Studio): number {
  return one<{ id: number }>(
    studio,
    "SELECT r.part_b_supply_id AS id FROM mix m JOIN resin_system r ON r.id = m.resin_system_id",
  ).id
}

/** A trace's picture of each kind of thing: of a mixed cup, and of what it has to do with. */
function picturesOf(studio: Studio): string[] {
  const ids = one<Record<string, number>>(
    studio,
    `SELECT u.id AS cup, u.batch_id AS batch, x.coat_id AS coat, ol.order_id AS "order", o.buyer_id AS buyer,
       c.id AS container, c.lot_id AS lot, r.delivery_id AS delivery
     FROM cup u JOIN order_line ol ON ol.id = u.order_line_id JOIN customer_order o ON o.id = ol.order_id
       JOIN coat_cup cc ON cc.cup_id = u.id JOIN mix x ON x.coat_id = cc.coat_id JOIN movement m ON m.coat_id = x.coat_id
       JOIN container c ON c.id = m.container_id JOIN receipt_line r ON r.id = c.receipt_line_id
     WHERE o.buyer_id IS NOT NULL LIMIT 1`,
  )
  return Object.entries(ids).flatMap(([kind, id]) => [
    `/trace/${kind}/${id}`,
    ...(kind === "coat" || kind === "buyer" ? [] : [`/history/of/${kind}/${id}`]),
  ])
}

function one<Row extends object>(studio: Studio, query: string, ...values: string[]): Row {
  const row = studio.file.firstText<Row>(query, values)
  if (!row) throw new Error(`The demo has nothing for ${query}`)
  return row
}

function said(html: string): string {
  return html
    .replace(/<[^>]*>/g, " ")
    .replace(/\s+/g, " ")
    .slice(0, 400)
}
