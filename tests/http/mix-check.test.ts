import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { historyRoutes } from "../../server/history/routes.ts"
import { undo } from "../../server/history/service.ts"
import { labelsRoutes } from "../../server/labels/routes.ts"
import { lookupRoutes } from "../../server/lookup/routes.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceCup } from "../../server/tracing/service.ts"
import { verify } from "../../server/verify/service.ts"
import { twoCupsOfOneMix } from "../support/one-mix.ts"
import { someone } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const { studio, batch, code, coat } = twoCupsOfOneMix()
let here: Listening
let keys = 0
const key = () => `check-test-${++keys}`
beforeAll(async () => {
  here = await listenWith(studio, [lookupRoutes, labelsRoutes, tracingRoutes, historyRoutes])
})
afterAll(() => here.close())

const check = (fields: Record<string, string>) =>
  here.post(`/mixes/${code}/check`, { key: key(), hardness: "", witness: "", note: "", ...fields })
const checks = () =>
  traceCup(studio, batch.cups[0]!.serial).layers.flatMap((layer) =>
    layer.coats.flatMap((one) => one.mixChecks),
  )
const lastAction = () => studio.file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id

describe("the next day", () => {
  test("a mix is found hard, with a sample kept: it stands on the mix's page and on each of its cups, in CSV and JSON", async () => {
    const answer = await check({ hardness: "hard", witness: "Lid in the top drawer" })
    expect(answer.status, answer.text).toBe(303)
    expect((await here.get(`/mixes/${code}`)).text).toContain("sample kept: Lid in the top drawer")
    for (const { serial } of batch.cups) {
      expect((await here.get(`/cups/${serial}`)).text).toContain("sample kept: Lid in the top drawer")
      const [header = "", line = ""] = (await here.get(`/cups/${serial}/trace.csv`)).text.split("\r\n")
      expect(line.split(",")[header.split(",").indexOf("mix_found")]).toBe("hard")
      const { layers } = (await here.get(`/cups/${serial}/trace.json`)).body
      expect(layers[0].coats[0].mixChecks).toMatchObject([{ hardness: "hard", note: "" }])
    }
    expect(verify(studio.file)).toEqual([])
  })

  test("found tacky, it says to keep its cups back and blames nothing; undone, it is not said any more", async () => {
    const answer = await check({ hardness: "tacky", note: "at 15 °C" })
    const page = await here
      .get(String(answer.headers.location))
      .set("Cookie", answer.headers["set-cookie"] ?? "")
    expect(page.text).toContain("keep its cups back")
    expect(checks().map((one) => one.hardness)).toEqual(["hard", "tacky"])
    undo(studio, someone(), lastAction())
    expect(checks().map((one) => one.hardness)).toEqual(["hard"])
  })

  test("nothing said, or something that is no answer, is refused and keeps what was typed", async () => {
    const before = lastAction()
    expect((await check({})).text).toContain("Say how hard it is, or where a sample is kept.")
    const odd = await check({ hardness: "rubbery", note: "bends" })
    expect([
      odd.status,
      odd.text.includes("How hard: choose one."),
      odd.text.includes('value="bends"'),
    ]).toEqual([422, true, true])
    expect((await here.post("/mixes/M9999Z/check", { key: key(), hardness: "hard" })).status).toBe(404)
    expect(lastAction()).toBe(before)
  })

  test("the coat is undone only after what was noted on its mix", () => {
    expect(() => undo(studio, someone(), coat.actionId)).toThrow("its mix was looked at after it")
  })
})

test("what is left of a mix gets a label whose code, read back, leads to the mix", async () => {
  const page = (await here.get(`/labels?codes=${code}`)).text
  expect(page).toContain("Mixed on 1 Dec 2026")
  expect(page).toContain("Hard on")
  expect(page).toContain(`href="/mixes/${code}"`)
  expect((await here.get(`/go?code=${code}`)).headers.location).toBe(`/mixes/${code}`)
  expect((await here.get("/labels?codes=M0000")).status).toBe(404)
})
