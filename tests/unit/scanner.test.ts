import { describe, expect, test } from "vitest"
import { isRight, isWeak, type Scan } from "../../client/scan/codes.ts"
import { type Key, KeyboardScan } from "../../client/scan/keyboard.ts"
import { Sightings } from "../../client/scan/sightings.ts"
import { SYMBOLOGIES } from "../../server/domain/gs1.ts"

describe("one code in front of the camera", () => {
  const can = { code: "412345678903", symbology: "UPC-A", sure: true } as const

  test("counts once while it stays in sight, however long", () => {
    const sightings = new Sightings()
    const counted = Array.from({ length: 50 }, (_, n) => sightings.counts(can, n * 200))
    expect(counted.filter((one) => one !== null)).toEqual(["first"])
    expect(counted[0]).toBe("first")
  })

  test("counts again after two seconds out of sight, not sooner, and says that it is again", () => {
    const sightings = new Sightings()
    expect(sightings.counts(can, 0)).toBe("first")
    expect(sightings.counts(can, 1999)).toBeNull()
    expect(sightings.counts(can, 3999)).toBe("again")
    expect(sightings.counts(can, 60_000)).toBe("again")
  })

  test("does not keep another from counting", () => {
    const sightings = new Sightings()
    sightings.counts(can, 0)
    expect(sightings.counts({ ...can, code: "412345678910" }, 100)).toBe("first")
  })

  test("counts when two frames agree on it, where one is not sure", () => {
    const sightings = new Sightings()
    const unsure = { code: "01234565", symbology: "UPC-E", sure: false } as const
    const counted = [0, 200, 400, 600].map((atMs) => sightings.counts(unsure, atMs))
    expect(counted).toEqual([null, "first", null, null])
    expect(sightings.counts(unsure, 5000)).toBeNull()
    expect(sightings.counts(unsure, 5200)).toBe("again")
  })

  test("remembers no more after a hundred thousand codes than after fifty, and still the last ones", () => {
    const sightings = new Sightings()
    for (let n = 0; n < 100_000; n++) sightings.counts({ ...can, code: String(n) }, n * 10)
    expect(sightings.remembered).toBe(50)
    expect(sightings.counts({ ...can, code: "99999" }, 1_000_000)).toBeNull()
  })
})

describe("what bars can say", () => {
  const right: Scan[] = [
    { code: "9521234500018", symbology: "EAN-13" },
    { code: "23456785", symbology: "EAN-8" },
    { code: "412345678903", symbology: "UPC-A" },
    { code: "01234565", symbology: "UPC-E" },
    { code: "19521234500015", symbology: "ITF-14" },
    { code: "0109521234500018", symbology: "DataBar" },
  ]

  test.each(right)("$symbology $code, and no other last digit", ({ code, symbology }) => {
    expect(isRight({ code, symbology })).toBe(true)
    for (let digit = 0; digit < 10; digit++) {
      const other = code.slice(0, -1) + digit
      if (other !== code) expect(isRight({ code: other, symbology }), other).toBe(false)
    }
  })

  test("as many digits as they have: half an ITF-14 is none", () => {
    expect(isRight({ code: "684022", symbology: "ITF-14" })).toBe(false)
    expect(isRight({ code: "9521234500018", symbology: "UPC-A" })).toBe(false)
    expect(isRight({ code: "95", symbology: "Code 39" })).toBe(false)
    expect(isRight({ code: "", symbology: "QR" })).toBe(false)
  })

  test("only the four that could be read by chance are weak", () => {
    const code = "0109521234500018"
    expect(SYMBOLOGIES.filter((symbology) => isWeak({ code, symbology }))).toEqual([
      "EAN-8",
      "UPC-E",
      "ITF-14",
      "Code 39",
    ])
  })
})

describe("a hand-held scanner that types", () => {
  const GS = "\u001d"
  const ITEM = "0109521234500018"
  type Pressed = string | Partial<Key>

  function pressed(keys: readonly Pressed[], gapMs: number, separator = ""): (Scan | null)[] {
    const scan = new KeyboardScan(() => separator)
    return keys.map((one, index) => {
      const key = typeof one === "string" ? { key: one } : one
      return scan.press({ key: "", ctrlKey: false, altKey: false, metaKey: false, ...key }, index * gapMs)
    })
  }
  const typed = (code: string): Scan => ({ code, symbology: "typed" })

  test.each(["Enter", "Tab"])("is told by its speed and the %s at the end", (end) => {
    expect(pressed([..."9521234543213", end], 8).at(-1)).toEqual(typed("9521234543213"))
  })

  test("may hold Shift for capital letters, and Ctrl and Alt both for the third sign of a key", () => {
    expect(pressed(["Shift", "K", "Shift", "I", "T", "-", "1", "Enter"], 5).at(-1)).toEqual(typed("KIT-1"))
    const third = { key: "|", ctrlKey: true, altKey: true }
    expect(pressed([..."AB", "AltGraph", third, ..."CD", "Enter"], 5).at(-1)).toEqual(typed("AB|CD"))
  })

  test("is not a person typing", () => {
    for (const end of ["Enter", "Tab"]) expect(pressed([..."hello", end], 150)).toEqual(Array(6).fill(null))
  })

  test("is not a person pressing Enter or going on with Tab, or a key or two before it", () => {
    for (const end of ["Enter", "Tab"]) {
      expect(pressed([end], 5)).toEqual([null])
      expect(pressed([end, end, end, end, end], 5)).toEqual(Array(5).fill(null))
      expect(pressed(["a", "b", "c", end], 5).at(-1)).toBeNull()
    }
  })

  test("is not a shortcut", () => {
    expect(pressed([..."abc", { key: "a", ctrlKey: true }, "d", "Enter"], 5).at(-1)).toBeNull()
    expect(pressed([..."abcd", { key: "Enter", ctrlKey: true }], 5).at(-1)).toBeNull()
    expect(pressed([..."abc", { key: "v", metaKey: true }, "d", "Enter"], 5).at(-1)).toBeNull()
  })

  test("gives each of two codes in a row, none of them twice", () => {
    const codes = pressed([..."AAAA", "Enter", ..."BBBB", "Enter", "Enter"], 10)
    expect(codes.filter((one) => one !== null)).toEqual([typed("AAAA"), typed("BBBB")])
  })

  const ways: [string, Pressed[], string?][] = [
    ["the character itself", ["\u001d"]],
    [
      "Ctrl+]",
      [
        { key: "Control", ctrlKey: true },
        { key: "]", ctrlKey: true },
      ],
    ],
    ["F8", ["F8"]],
    [
      "0 2 9 with Alt held",
      [{ key: "Alt", altKey: true }, ...[..."029"].map((key) => ({ key, altKey: true }))],
    ],
    ["a sign it is set to", ["|"], "|"],
    ["a word it is set to", [..."{FNC1}"], "{FNC1}"],
    ["the number of the character, written out", [..."\\x1d"], "\\x1d"],
  ]
  test.each(ways)("its separator may come as %s", (_way, keys, separator) => {
    const code = [...`${ITEM}10AB-12`, ...keys, ..."2177", "Enter"]
    expect(pressed(code, 5, separator).at(-1)).toEqual(typed(`${ITEM}10AB-12${GS}2177`))
    // and two in a row are two
    const twice = [..."10AB", ...keys, ..."37", ...["2"], ...keys, ..."21X", "Enter"]
    expect(pressed(twice, 5, separator).at(-1)).toEqual(typed(`10AB${GS}372${GS}21X`))
  })

  test("letters may come by their number with Alt held", () => {
    const letter = (number: string) => [
      { key: "Alt", altKey: true },
      ...[...number].map((key) => ({ key, altKey: true })),
    ]
    expect(pressed([...letter("075"), ...letter("073"), ..."T-1", "Enter"], 5).at(-1)).toEqual(typed("KIT-1"))
  })

  // ISO/IEC 15424 symbology identifiers, from memory
  test.each([
    ["]C0", "SHELF-5", { code: "SHELF-5", symbology: "Code 128" }],
    ["]C1", `${ITEM}10A`, { code: `${ITEM}10A`, symbology: "GS1-128" }],
    ["]d1", "GLITTER/77", { code: "GLITTER/77", symbology: "DataMatrix" }],
    ["]d2", `${ITEM}10A`, { code: `${ITEM}10A`, symbology: "GS1 DataMatrix" }],
    ["]Q1", "https://kit.example/1", { code: "https://kit.example/1", symbology: "QR" }],
    ["]Q3", `${ITEM}10A`, { code: `${ITEM}10A`, symbology: "GS1 QR" }],
    ["]e0", ITEM, { code: ITEM, symbology: "DataBar" }],
    ["]e0", `${ITEM}10A`, { code: `${ITEM}10A`, symbology: "DataBar Expanded" }],
    ["]E0", "9521234500018", { code: "9521234500018", symbology: "EAN-13" }],
    ["]E0", "0412345678903", { code: "412345678903", symbology: "UPC-A" }],
    ["]E4", "23456785", { code: "23456785", symbology: "EAN-8" }],
    ["]I1", "19521234500015", { code: "19521234500015", symbology: "ITF-14" }],
    ["]I0", "123456", { code: "123456", symbology: "typed" }],
    ["]A0", "KIT-1", { code: "KIT-1", symbology: "Code 39" }],
    ["]X9", "KIT-1", { code: "]X9KIT-1", symbology: "typed" }],
  ] as const)("%s in front tells what the bars of %s are", (identifier, code, scan) => {
    expect(pressed([...identifier, ...code, "Enter"], 5).at(-1)).toEqual(scan)
  })

  test("a longest GS1 code comes whole", () => {
    const long = `]d2${ITEM}${"9".repeat(2_300)}`
    expect(pressed([...long, "Enter"], 2).at(-1)?.code).toBe(long.slice(3))
  })
})
