import { expect, test } from "vitest"
import { pagesOf } from "../../server/labels/drawing.ts"
import { FORMATS } from "../../server/labels/formats.ts"

const label = (name: string) => ({
  code: "K0001O",
  title: "K0001O",
  name,
  lines: ["Lot PM-1", "Use by 31 Dec 2027"],
  toFillIn: "Opened on",
})
const drawn = (name: string) => {
  const [page = ""] = pagesOf([label(name)], FORMATS["29x90"], { start: 1, symbol: "qr" })
  return {
    names: [...page.matchAll(/class="label-name">([^<]*)/g)].map(([, said]) => said),
    size: Number(/font-size="([\d.]+)"/.exec(page)?.[1]),
    narrowed: page.includes("textLength"),
  }
}

test("a name that has room beside the symbol stands on one line, a longer one is broken evenly over two", () => {
  expect(drawn("Pearl mica gold").names).toEqual(["Pearl mica gold"])
  expect(drawn("Tumble Clear, slow, part A of the kit").names).toEqual([
    "Tumble Clear, slow,",
    "part A of the kit",
  ])
})

test("what one line saves makes all lines larger, and none is drawn narrower for it", () => {
  expect(drawn("Pearl mica gold").size).toBeGreaterThan(drawn("Tumble Clear, slow, part A of the kit").size)
  expect(drawn("Pearl mica gold").narrowed).toBe(false)
})
