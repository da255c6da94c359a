import { expect, test } from "vitest"
import { addressAfter } from "../../client/forms/posted.ts"

const at = (path: string) => `http://127.0.0.1:4000${path}`

test.each([
  [
    "a refused count goes back to its bottle",
    "other",
    "/containers/K00014/count",
    "/containers/K00014",
    "/containers/K00014",
  ],
  ["a form at its own address keeps it", "own", "/orders/new", "/orders", "/orders/new"],
  ["… and what stood behind its “?”", "own", "/orders/new", "/orders/new?from=3", "/orders/new?from=3"],
  [
    "the editor of a design stays at its layer",
    "other",
    "/designs/new#layer-2",
    "/designs/new?from=3",
    "/designs/new?from=3#layer-2",
  ],
])("%s", (_rule, posted, sentTo, from, address) => {
  expect(addressAfter(posted, at(sentTo), at(from))).toBe(at(address))
})

test("a form sent from somewhere else, or from nowhere, never leads there", () => {
  expect(addressAfter("other", at("/x"), "https://elsewhere.example/x")).toBe(at("/x"))
  expect(addressAfter("other", at("/x"), "")).toBe(at("/x"))
})
