import { letIn } from "../../server/devices/service.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { type Studio, todayOf } from "../../server/ledger/studio.ts"
import { packById } from "../../server/supplies/service.ts"
import type { Listening } from "../http/listening.ts"

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
 * Brings the demo's things into every state its pages tell apart, by its own forms: an open delivery; containers
 * sealed, open, on the bench, held, of a held lot; packs awaited; a draft order, one with a finished cup; a batch the
 * shelf is too small for.
 */
export async function everyState(studio: Studio, here: Listening): Promise<EveryState> {
  let keys = 0
  const send = async (path: string, fields: Record<string, string | string[]> = {}) => {
    keys += 1
    const answer = await here.post(path, { key: `state-${String(keys).padStart(4, "0")}`, ...fields })
    if (answer.status !== 303)
      throw new Error(`POST ${path} was answered ${answer.status}: ${said(answer.text)}`)
    return String(answer.headers.location)
  }
  letIn(studio, "Phone at the bench")
  await send("/setup/phones/code")

  const today = todayOf(studio)
  const delivery = await send("/receive/deliveries", { sellerId: "1", receivedOn: today })
  const deliveryId = new URL(delivery, here.url).searchParams.get("delivery")
  const [sealed, open, benched, held, ofHeldLot] = sealedOnes(studio)
  await send(`/containers/${open}/open`)
  await send(`/containers/${benched}/bench`)
  await send(`/containers/${held}/hold`)
  const lot = lotIn(studio, ofHeldLot)
  await send(`/lots/${lot.id}/hold`)
  await send("/shopping/ordered", { sellerId: "1", packId: "1", count: "2", expectedOn: today })

  const cup = freeCup(studio)
  const line = {
    "lines[0][designId]": String(cup.designId),
    "lines[0][quantity]": "3",
    "lines[0][dueOn]": "2027-03-01",
    "lines[0][note]": "With a name",
  }
  const draft = await send("/orders/new", { ...line, buyer: "Ana Brook", state: "draft" })
  const order = await send("/orders/new", { ...line, buyer: "Ana Brook", state: "planned" })
  const lineId = one<{ id: number }>(studio, "SELECT max(id) AS id FROM order_line").id
  await send(`${order}/assign`, { lineId: String(lineId), cupIds: String(cup.id) })
  const version = one<{ id: number }>(studio, "SELECT max(id) AS id FROM design_version")
  const largeBatch = await send("/batches", { versionId: String(version.id), cups: "60" })

  // last, so that all of it is in the copy too
  await send("/setup/copies")

  const packCode = packById(studio, 1).codes[0]!.slice(1)
  return {
    largeBatch,
    packCode,
    addresses: [
      largeBatch,
      draft,
      order,
      `/cups/${mixedFor(studio)}`,
      ...[sealed, open, benched, held, ofHeldLot].map((code) => `/containers/${code}`),
      `/lots/${lot.id}`,
      "/receive?delivery=1",
      `/receive/lookup?code=${packCode}`,
      `/receive/scan?code=${packCode}`,
      `/receive/confirm?delivery=${deliveryId}&pack=1`,
      `/receive/confirm?delivery=${deliveryId}&pack=4`,
      `/receive/own?code=${sealed}`,
      `/receive/new?delivery=${deliveryId}&code=NEW-42`,
      // right as an EAN-8 and as a UPC-E
      `/receive/which?delivery=${deliveryId}&code=01230055`,
      `/go?code=${packCode}`,
      `/go?code=${sharedLotNumber(studio)}`,
      "/forecast?designId=5&quantity=40&dueOn=2027-03-01",
    ],
  }
}

function sealedOnes(studio: Studio): [string, string, string, string, string] {
  const codes = onHand(studio.file, "America/Chicago")
    .filter((bottle) => bottle.openedOn === null && !bottle.held && bottle.lotNumber !== null)
    .map(({ code }) => code)
  const [a, b, c, d, e] = codes
  if (!a || !b || !c || !d || !e) throw new Error("The demo has not five containers that are sealed.")
  return [a, b, c, d, e]
}

function lotIn(studio: Studio, code: string): { id: number } {
  return one(studio, "SELECT lot_id AS id FROM container WHERE code = ?", code)
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
