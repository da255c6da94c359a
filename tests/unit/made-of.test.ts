import { expect, test } from "vitest"
import { connect } from "../../db/file.ts"
import { madeOf } from "../../db/made-of.ts"

const COLOURS = "SELECT id, colour FROM paint ORDER BY id"
type Row = { id: number; colour: string | null }

function paints() {
  const file = connect(":memory:")
  file.script("CREATE TABLE paint (id INTEGER PRIMARY KEY, colour TEXT)")
  file.script("INSERT INTO paint (colour) VALUES ('teal'), ('plum'), (NULL)")
  return file
}

test("what is made of rows is made once, and anew whenever a row is another", () => {
  const colours = madeOf((rows: readonly Row[]) => rows.map((row) => row.colour))
  const file = paints()
  const now = () => colours(file, file.allText<Row>(COLOURS))
  const first = now()
  expect(now()).toBe(first)
  const changes: [string, (string | null)[]][] = [
    ["UPDATE paint SET colour = 'rust' WHERE id = 2", ["teal", "rust", null]],
    ["UPDATE paint SET colour = 'sand' WHERE id = 3", ["teal", "rust", "sand"]],
    ["INSERT INTO paint (colour) VALUES ('sand')", ["teal", "rust", "sand", "sand"]],
    ["DELETE FROM paint WHERE id = 1", ["rust", "sand", "sand"]],
    ["UPDATE paint SET id = 9 WHERE id = 4", ["rust", "sand", "sand"]],
    ["DELETE FROM paint", []],
  ]
  let before = first
  for (const [text, expected] of changes) {
    file.runText(text)
    const after = now()
    expect(after).not.toBe(before)
    expect(after).toEqual(expected)
    expect(now()).toBe(after)
    before = after
  }
})

test("what was undone is made as it was, and another file has its own", () => {
  const colours = madeOf((rows: readonly Row[]) => rows.map((row) => row.colour))
  const [file, other] = [paints(), paints()]
  const now = (of = file) => colours(of, of.allText<Row>(COLOURS))
  const undone = () =>
    file.transaction(() => {
      file.runText("UPDATE paint SET colour = 'rust'")
      expect(now()).toEqual(["rust", "rust", "rust"])
      throw new Error("undone")
    })
  expect(undone).toThrow("undone")
  expect(now()).toEqual(["teal", "plum", null])
  other.runText("DELETE FROM paint WHERE id = 1")
  expect([now(), now(other)]).toEqual([
    ["teal", "plum", null],
    ["plum", null],
  ])
})

test("each of several things is remembered by its key, and made anew where what it is made from was", () => {
  let made = 0
  const listOf = madeOf((rows: readonly Row[]) => rows.map((row) => row.colour))
  const one = madeOf(
    (rows: readonly Row[], list: readonly (string | null)[]) => {
      made += 1
      return `${rows[0]?.colour} of ${list.length}`
    },
    ([row]) => row!.id,
  )
  const file = paints()
  const now = (id: number) =>
    one(
      file,
      file.allText<Row>("SELECT id, colour FROM paint WHERE id = ?", [id]),
      listOf(file, file.allText<Row>(COLOURS)),
    )
  expect([now(1), now(2), now(1), now(2)]).toEqual(["teal of 3", "plum of 3", "teal of 3", "plum of 3"])
  expect(made).toBe(2)
  file.runText("UPDATE paint SET colour = 'rust' WHERE id = 2")
  expect([now(1), now(2)]).toEqual(["teal of 3", "rust of 3"])
  expect(made).toBe(4)
})
