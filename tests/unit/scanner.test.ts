import { describe, expect, test } from "vitest"
import { type Key, KeyboardScan } from "../../client/scan/keyboard.ts"
import { Sightings } from "../../client/scan/sightings.ts"

describe("one code in front of the camera", () => {
  const can = { code: "412345678903", symbology: "UPC-A" } as const

  test("counts once while it stays in sight, however long", () => {
    const sightings = new Sightings()
    const counted = Array.from({ length: 50 }, (_, n) => sightings.counts(can, n * 200))
    expect(counted.filter(Boolean)).toHaveLength(1)
    expect(counted[0]).toBe(true)
  })

  test("counts again after two seconds out of sight, not sooner", () => {
    const sightings = new Sightings()
    expect(sightings.counts(can, 0)).toBe(true)
    expect(sightings.counts(can, 1999)).toBe(false)
    expect(sightings.counts(can, 3999)).toBe(true)
  })

  test("does not keep another from counting", () => {
    const sightings = new Sightings()
    sightings.counts(can, 0)
    expect(sightings.counts({ ...can, code: "412345678910" }, 100)).toBe(true)
  })

  test("counts at its second sighting when it is short, since bars of longer codes can look like it", () => {
    const sightings = new Sightings()
    const short = { code: "01234565", symbology: "UPC-E" } as const
    const counted = [0, 200, 400, 600].map((atMs) => sightings.counts(short, atMs))
    expect(counted).toEqual([false, true, false, false])
    expect(sightings.counts(short, 5000)).toBe(false)
    expect(sightings.counts(short, 5200)).toBe(true)
  })
})

describe("a hand-held scanner that types", () => {
  function typed(keys: readonly (string | Partial<Key>)[], gapMs: number): (string | null)[] {
    const scan = new KeyboardScan()
    return keys.map((one, index) => {
      const key = typeof one === "string" ? { key: one } : one
      return scan.press({ key: "", ctrlKey: false, altKey: false, metaKey: false, ...key }, index * gapMs)
    })
  }

  test("is told by its speed and the Enter at the end", () => {
    expect(typed([..."9521234543213", "Enter"], 8).at(-1)).toBe("9521234543213")
  })

  test("may hold Shift for capital letters", () => {
    expect(typed(["Shift", "K", "Shift", "I", "T", "-", "1", "Enter"], 5).at(-1)).toBe("KIT-1")
  })

  test("is not a person typing", () => {
    expect(typed([..."hello", "Enter"], 150)).not.toContain("hello")
    expect(typed([..."hello", "Enter"], 150).at(-1)).toBeNull()
  })

  test("is not a person pressing Enter, or a key or two before it", () => {
    expect(typed(["Enter"], 5)).toEqual([null])
    expect(typed(["a", "b", "c", "Enter"], 5).at(-1)).toBeNull()
  })

  test("is not a shortcut", () => {
    expect(typed([..."abc", { key: "a", ctrlKey: true }, "d", "Enter"], 5).at(-1)).toBeNull()
  })

  test("gives each of two codes in a row, none of them twice", () => {
    expect(typed([..."AAAA", "Enter", ..."BBBB", "Enter", "Enter"], 10).filter(Boolean)).toEqual([
      "AAAA",
      "BBBB",
    ])
  })
})
