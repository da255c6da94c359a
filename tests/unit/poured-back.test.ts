import { expect, test } from "vitest"
import { topUp } from "../../server/shelf/service.ts"
import { folded } from "../../server/tracing/fold.ts"
import { lineageOf } from "../../server/tracing/lineage.ts"
import { addOne, receiveSome } from "../support/shelf-fixtures.ts"
import { someone, TODAY, testStudio } from "../support/studio.ts"

test("a bottle poured into another and filled from it again: its two boxes say which was before the top-up", () => {
  const studio = testStudio()
  const supplyId = addOne(studio, { name: "Clear A" })
  const X = receiveSome(studio, supplyId, { number: "L", receivedOn: TODAY }).codes[0]!
  const Y = receiveSome(studio, supplyId, { number: "M", receivedOn: TODAY }).codes[0]!
  topUp(studio, someone(), { fromCode: X, toCode: Y, amount: 400_000 })
  topUp(studio, someone(), { fromCode: Y, toCode: X, amount: 100_000 })
  const id = studio.file.firstText<{ id: number }>("SELECT id FROM container WHERE code = ?", [X])!.id
  const { things, links } = folded(lineageOf(studio, "container", id))
  const say = (key: string) => {
    const { name, says } = things.get(key)!
    return `${name} ${says[1] ?? ""}`
  }
  const poured = links
    .filter(({ from, to }) => [from, to].every((key) => things.get(key)?.kind === "container"))
    .map(({ from, to }) => `${say(from)} > ${say(to)}`)
  expect(poured.sort()).toEqual([
    `${X} before its top-up > ${X} topped up Tue 1 Dec`,
    `${X} before its top-up > ${Y} topped up Tue 1 Dec`,
    `${Y} topped up Tue 1 Dec > ${X} topped up Tue 1 Dec`,
  ])
})
