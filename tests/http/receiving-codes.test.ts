import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { gtinCheckDigit } from "../../server/domain/gs1.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { act } from "../../server/ledger/act.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { changed } from "../../server/ledger/row-change.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { openDelivery } from "../../server/receiving/service.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { addCodeToPack, addMaker, packById } from "../../server/supplies/service.ts"
import { bottleWithCode, deliveryFrom, kitWithCode } from "../support/receiving-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const GS = "\u001d"
const item = (body: string) => body + gtinCheckDigit(body)
/** GS1 prefix 952: set aside for examples. */
const TEAL = item("0952123400001")
const KIT = item("0952123400002")
const MINT = item("0952123400003")

const studio = testStudio()
const teal = bottleWithCode(studio, "Teal", [TEAL], { shelfLife: { unit: "months", value: 24 } })
const { packId: kit } = kitWithCode(studio, "Clear", [KIT])
const mint = bottleWithCode(studio, "Mint", [MINT])
const { deliveryId } = deliveryFrom(studio, "Harbour Supply")
let here: Listening

beforeAll(async () => {
  here = await listenWith(studio, [receivingRoutes, shelfRoutes, historyRoutes])
})
afterAll(() => here.close())

async function scan(code: string, symbology = "DataMatrix"): Promise<{ kind: string; to: string }> {
  const query = new URLSearchParams({ code, symbology, delivery: String(deliveryId) })
  return (await here.get(`/receive/lookup?${query}`)).body
}

/** What stands in the fields of the form, as a browser would send it without anything being typed. */
function fieldsOf(html: string): Record<string, string> {
  const form =
    /<form method="post" action="[^"]*confirm[^"]*" data-receipt>.*?<\/form>/s.exec(html)?.[0] ?? ""
  const fields: Record<string, string> = {}
  for (const [tag] of form.matchAll(/<input [^>]*>/g)) {
    const name = / name="([^"]*)"/.exec(tag)?.[1]
    const isOff = /type="(radio|checkbox)"/.test(tag) && !/ checked/.test(tag)
    if (name !== undefined && !isOff) fields[name] = plain(/ value="([^"]*)"/.exec(tag)?.[1] ?? "")
  }
  return fields
}

const plain = (text: string) => text.replaceAll("&#x3D;", "=").replaceAll("&amp;", "&")

/** One tap: the form is sent just as it stands. */
async function oneTap(code: string, symbology = "DataMatrix", more: Record<string, string> = {}) {
  const { to } = await scan(code, symbology)
  const page = await here.get(to)
  expect(page.status, page.text).toBe(200)
  const answer = await here.post(to, { ...fieldsOf(page.text), ...more })
  return { page: page.text, answer }
}

const newest = () => onHand(studio.file, "America/Chicago").at(-1)!

describe("a full GS1 code needs one tap", () => {
  test("item, lot and expiry stand filled in and are kept", async () => {
    const { page, answer } = await oneTap(`01${TEAL}1728063010T-771${GS}21S1`)
    expect(page).toContain("T-771")
    expect(answer.status, answer.text).toBe(303)
    expect(newest()).toMatchObject({ supply: "Teal", lotNumber: "T-771", useBy: "2028-06-30" })
  })

  test.each([
    ["as a hand-held scanner sends it, with its mark in front", `]C101${TEAL}10T-772`, "Code 128"],
    ["as it stands in print", `(01)${TEAL}(10)T-773`, "typed"],
    ["as a web address of any domain", `https://id.example/01/${TEAL}/10/T-774?17=290101`, "QR"],
  ])("%s", async (_how, code, symbology) => {
    const { answer } = await oneTap(code, symbology)
    expect(answer.status, answer.text).toBe(303)
    expect(newest().lotNumber).toMatch(/^T-77[2-4]$/)
  })

  test("a kit's code gives both halves their lot", async () => {
    const { answer } = await oneTap(`01${KIT}10K-5${GS}17290630`)
    expect(answer.status, answer.text).toBe(303)
    const bottles = onHand(studio.file, "America/Chicago").slice(-2)
    expect(bottles.map((one) => [one.supply, one.lotNumber, one.useBy])).toEqual([
      // part A keeps 24 months from today by its shelf life; the label's day is what counts where it is printed
      ["Clear part A", "K-5", "2029-06-30"],
      ["Clear part B", "K-5", "2029-06-30"],
    ])
  })

  test("day 00 is the last of the month, and the earlier of label and made-on + shelf life counts", async () => {
    const { answer } = await oneTap(`01${TEAL}112609001730060010T-81`)
    expect(answer.status, answer.text).toBe(303)
    // made on 30 Sep 2026 and kept 24 months, which is before the label's 30 Jun 2030
    expect(newest()).toMatchObject({ lotNumber: "T-81", useBy: "2028-09-30" })
  })

  test("a code of five hundred characters and more goes through", async () => {
    const long = `01${TEAL}10T-900${GS}${["91", "92", "93", "94", "95", "96", "97"].map((ai) => ai + "X".repeat(90)).join(GS)}`
    expect(long.length).toBeGreaterThan(500)
    const { answer } = await oneTap(long)
    expect(answer.status, answer.text).toBe(303)
    expect(newest().lotNumber).toBe("T-900")
  })
})

describe("what is not as it should be is said before anything is kept", () => {
  test("contents that differ from the pack", async () => {
    const page = await here.get((await scan(`01${TEAL}315000000110T-1`)).to)
    expect(page.text).toContain("The code says 1 L, but this pack is set up with 400 mL.")
  })

  test("contents as they round on a label are the same", async () => {
    const page = await here.get((await scan(`01${TEAL}315300040510T-1`)).to)
    expect(page.text).not.toContain("set up with")
  })

  test("the very one, by its serial number", async () => {
    const page = await here.get((await scan(`01${TEAL}10T-771${GS}21S1`)).to)
    expect(page.text).toContain("This very one (serial S1) was taken in on Tue 1 Dec already.")
  })

  test("that one with that lot is in this delivery already", async () => {
    const page = await here.get((await scan(`01${TEAL}10T-771${GS}21S2`)).to)
    expect(page.text).toContain("One of it with lot T-771 is in this delivery already. Is this another?")
  })

  test("a lot that may have run together with what stands behind it", async () => {
    const page = await here.get((await scan(`01${TEAL}10AB-1221777`)).to)
    expect(page.text).toMatch(/may have run together/)
  })

  test("a lot that is in the book with another expiry is refused, and can be mended on the same page", async () => {
    const { answer } = await oneTap(`01${TEAL}1729013110T-771`)
    expect(answer.status).toBe(422)
    expect(answer.text).toContain("is in the book with expiry Fri 30 Jun 2028")
    const mended = await here.post((await scan(`01${TEAL}1729013110T-771`)).to, {
      ...fieldsOf(answer.text),
      "lots[0][expires]": "",
    })
    expect(mended.status, mended.text).toBe(303)
  })
})

describe("an outer carton", () => {
  const body = `3${MINT.slice(1, 13)}`
  const CARTON = body + gtinCheckDigit(body)

  test("is asked about once, and from then on brings all that is in it with one tap", async () => {
    const first = await scan(CARTON)
    expect(first.kind).toBe("carton")
    const page = await here.get(first.to)
    expect(page.text).toContain("By its number it is a carton of Mint pack.")
    const answer = await here.post(first.to, { key: "carton-form-1", packId: String(mint), count: "6" })
    expect(answer.status).toBe(303)
    expect((await here.get(String(answer.headers.location))).text).toContain("A carton of 6 packs")

    const again = await oneTap(`01${CARTON}10M-6`)
    expect(again.answer.status, again.answer.text).toBe(303)
    expect(onHand(studio.file, "America/Chicago").filter((one) => one.lotNumber === "M-6")).toHaveLength(6)
  })

  test("that names what is in it and how many needs no question", async () => {
    const { answer } = await oneTap(`02${MINT}37000410M-7`.replace("370004", `3704${GS}`))
    expect(answer.status, answer.text).toBe(303)
    expect(onHand(studio.file, "America/Chicago").filter((one) => one.lotNumber === "M-7")).toHaveLength(4)
  })

  test("keeps its count when the pack is changed otherwise", () => {
    act(studio, "set up", someone(), {}, (now) => {
      changed(now, "pack", mint, () => addCodeToPack(studio, mint, "MORE-1"))
      return { summary: "One more code", answer: null }
    })
    expect(packById(studio, mint).codes).toContain(CARTON)
    expect(studio.file.firstText("SELECT packs FROM pack_code WHERE code = ?", [CARTON])).toEqual({
      packs: 6,
    })
  })
})

describe("a code never seen", () => {
  const NEW = item("0952123400077")
  const code = `01${NEW}31530002501728123110N-1`

  test("asks what it is with all it says filled in, goes on with the same, and is known the next time", async () => {
    const { kind, to } = await scan(code)
    expect(kind).toBe("unknown")
    const page = await here.get(to)
    expect(page.text).toContain("What is it?")
    expect(page.text).toMatch(/<dt>Lot<\/dt><dd>N-1<\/dd>/)
    expect(page.text).toMatch(/name="holds" type="text" value="250 mL"/)
    const described = await here.post(to.replace("/receive/new", "/receive/new/described"), {
      key: "describe-new-1",
      name: "Sunset gold",
      kind: "paint",
      holds: "250 mL",
      containerCount: "1",
      makerName: "",
    })
    expect(described.status, described.text).toBe(303)
    const confirm = String(described.headers.location)
    const form = await here.get(confirm)
    const answer = await here.post(confirm, fieldsOf(form.text))
    expect(answer.status, answer.text).toBe(303)
    expect(newest()).toMatchObject({ supply: "Sunset gold", lotNumber: "N-1", useBy: "2028-12-31" })
    expect((await scan(NEW.slice(1), "EAN-13")).kind).toBe("pack")
  })
})

describe("fewer taps", () => {
  test("the lot of the one before is not offered for a thing of another maker", async () => {
    await oneTap(`01${TEAL}1728063010T-770`)
    const { to } = await scan(MINT.slice(1), "EAN-13")
    expect((await here.get(to)).text).not.toContain("T-770")
  })

  test("the lot of the one before, of the same maker, in one tap", async () => {
    const maker = addMaker(studio, { name: "Harbour Colours" })
    act(studio, "set up", someone(), {}, (now) => {
      for (const { id } of studio.file.allText<{ id: number }>("SELECT id FROM pack"))
        changed(now, "pack", id, () =>
          studio.file.runText("UPDATE pack SET maker_id = ? WHERE id = ?", [maker, id]),
        )
      return { summary: "All packs are of one maker", answer: null }
    })
    await oneTap(`01${TEAL}1728063010T-771`)
    const { to } = await scan(MINT.slice(1), "EAN-13")
    const page = await here.get(to)
    const before = /name="asBefore" value="(\d+)"><svg.*?<span>(.*?)<\/span>/.exec(page.text)
    expect(before?.[2]).toBe("Take it in, lot T-771 again")
    const answer = await here.post(to, { ...fieldsOf(page.text), asBefore: before![1]! })
    expect(answer.status, answer.text).toBe(303)
    expect(newest()).toMatchObject({ supply: "Mint", lotNumber: "T-771", useBy: "2028-06-30" })
  })

  test("the same again × 12, with lot, dates and price", async () => {
    const page = await here.get(`/receive?delivery=${deliveryId}`)
    const again = /action="(\/receive\/lines\/\d+\/again)"/.exec(page.text)?.[1] ?? ""
    const had = onHand(studio.file, "America/Chicago").length
    const answer = await here.post(again, { key: "again-form-1", count: "12" })
    expect(answer.status).toBe(303)
    const now = onHand(studio.file, "America/Chicago")
    expect(now).toHaveLength(had + 12)
    expect(new Set(now.slice(-12).map((one) => `${one.supply} ${one.lotNumber} ${one.useBy}`))).toEqual(
      new Set(["Mint T-771 2028-06-30"]),
    )
    const shown = await here.get(String(answer.headers.location)).set("Cookie", cookiesOf(answer))
    expect(shown.text).toContain("12 × Mint pack received, lot T-771")
  })

  test("the same form once more is the same answer, also when the line was undone since", async () => {
    await oneTap(`01${TEAL}10T-R`)
    const page = await here.get(`/receive?delivery=${deliveryId}`)
    const again = /action="(\/receive\/lines\/\d+\/again)"/.exec(page.text)?.[1] ?? ""
    const undo = /action="(\/history\/\d+\/undo)"/.exec(page.text)?.[1] ?? ""
    const sent = { key: "again-form-2", count: "2" }
    expect((await here.post(again, sent)).status).toBe(303)
    expect((await here.post(undo, { key: "undo-again-1" })).status).toBe(303)
    const had = onHand(studio.file, "America/Chicago").length
    expect((await here.post(again, sent)).status).toBe(303)
    expect(onHand(studio.file, "America/Chicago")).toHaveLength(had)
    expect((await here.post(again, { key: "again-form-3", count: "1" })).status).toBe(409)
  })

  test("damaged ones are not taken in", async () => {
    const had = onHand(studio.file, "America/Chicago").length
    const { answer } = await oneTap(`01${TEAL}10T-1`, "DataMatrix", { came: "damaged", count: "2" })
    expect(answer.status).toBe(303)
    expect(onHand(studio.file, "America/Chicago")).toHaveLength(had)
    expect((await here.get(`/receive?delivery=${deliveryId}`)).text).toContain("Came damaged, not taken in")
  })

  test("what it weighs full gives the empty bottle; several at once cannot be weighed", async () => {
    studio.file.runText("UPDATE supply SET density_mg_per_ml = 1100 WHERE name = 'Teal'")
    const { answer } = await oneTap(`01${TEAL}10T-W`, "DataMatrix", { gross: "520 g", count: "1" })
    expect(answer.status, answer.text).toBe(303)
    // 400 mL at 1.1 g/mL are 440 g
    const { containerId } = newest()
    expect(studio.file.firstText("SELECT empty_mg FROM container WHERE id = ?", [containerId])).toEqual({
      empty_mg: 80_000,
    })
    const two = await oneTap(`01${TEAL}10T-W`, "DataMatrix", { gross: "520 g", count: "2" })
    expect(two.answer.status).toBe(422)
    expect(two.answer.text).toContain("Weigh each on its own page")
  })
})

describe("shipping and tax, when it is finished", () => {
  const close = `/receive/deliveries/${deliveryId}/close`

  test("are refused where they are no money, with what was typed kept and nothing finished", async () => {
    const answer = await here.post(close, {
      key: "close-form-1",
      _form: "close",
      shipping: "a lot",
      tax: "3.20",
    })
    expect(answer.status).toBe(422)
    expect(answer.text).toContain("is not a price")
    expect(answer.text).toContain('value="a lot"')
    expect(openDelivery(studio)?.id).toBe(deliveryId)
  })

  test("are shared out, stand on the container's page, and are undone with the finish", async () => {
    const worth = () =>
      onHand(studio.file, "America/Chicago").reduce((sum, one) => sum + one.costLeftMicro, 0)
    const had = worth()
    const answer = await here.post(close, {
      key: "close-form-2",
      _form: "close",
      shipping: "12.50",
      tax: "3.20",
    })
    expect(answer.status, answer.text).toBe(303)
    expect(worth() - had).toBe(15_700_000)
    expect((await here.get(`/containers/${newest().code}`)).text).toMatch(/and \$[\d.]+ of shipping and tax/)
    const shown = await here.get(String(answer.headers.location)).set("Cookie", cookiesOf(answer))
    const undo = /action="(\/history\/\d+\/undo)"/.exec(
      /<div class="toast".*?<\/form>/s.exec(shown.text)![0],
    )![1]!
    await here.post(undo, { key: "undo-close-1" })
    expect(worth()).toBe(had)
    expect(openDelivery(studio)?.id).toBe(deliveryId)
  })
})

test("the things taken in by code keep every rule of the book", async () => {
  expect(teal).toBeGreaterThan(0)
  expect(kit).toBeGreaterThan(0)
  const { verify } = await import("../../server/verify/service.ts")
  expect(verify(studio.file)).toEqual([])
})
