import {
  copyFileSync,
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import Database from "better-sqlite3"
import fc from "fast-check"
import { Temporal } from "temporal-polyfill"
import { afterEach, beforeEach, describe, expect, test } from "vitest"
import { type House, openHouse } from "../../server/data/house.ts"
import { isDue } from "../../server/data/nightly.ts"
import { copiesKept } from "../../server/domain/copies-kept.ts"
import { plusDays } from "../../server/domain/dates.ts"
import { act } from "../../server/ledger/act.ts"
import { FIRST_SETTINGS, keepSettings } from "../../server/ledger/studio.ts"
import { verify } from "../../server/verify/service.ts"
import { someone } from "../support/studio.ts"

let folder: string
let house: House
let clock: Temporal.Instant

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "lotcup-house-"))
  clock = Temporal.Instant.from("2026-12-01T18:00:00Z")
  house = openHouse(folder, () => clock)
  keepSettings(house.studio, { ...FIRST_SETTINGS, name: "Before", timeZone: "America/Chicago" })
})
afterEach(() => {
  house.close()
  rmSync(folder, { recursive: true, force: true })
})

const note = (what: string) =>
  act(house.studio, "note", someone(), { what }, () => ({ summary: what, answer: what }))
const noted = () =>
  house.studio.file
    .allText<{ summary: string }>("SELECT summary FROM action ORDER BY id")
    .map((row) => row.summary)
const later = (span: Temporal.DurationLike) => {
  clock = clock.add(span)
}

describe("a copy", () => {
  test("is put back after the book was destroyed, and agrees with every rule", async () => {
    note("one bottle came")
    const { name } = await house.makeCopy("asked")
    const kept = readFileSync(house.pathOf(name))
    house.close()
    rmSync(join(folder, "studio.db"))
    for (const more of ["-wal", "-shm"]) rmSync(join(folder, `studio.db${more}`), { force: true })

    house = openHouse(folder, () => clock)
    expect(noted()).toEqual([])
    const elsewhere = join(folder, "from-a-stick.db")
    writeFileSync(elsewhere, kept)
    await house.putBack(elsewhere)
    expect(noted()).toEqual(["one bottle came"])
    expect(verify(house.studio.file)).toEqual([])
  })

  test("keeps what was there before it was put back, so that this too can be taken back", async () => {
    note("first")
    const { name } = await house.makeCopy("asked")
    later({ minutes: 5 })
    note("second")
    const { kept } = await house.putBack(house.pathOf(name))
    expect(noted()).toEqual(["first"])
    later({ minutes: 5 })
    await house.putBack(house.pathOf(kept.name))
    expect(noted()).toEqual(["first", "second"])
  })

  test("can be written to once it is put back: the book goes on", async () => {
    note("first")
    const { name } = await house.makeCopy("asked")
    await house.putBack(house.pathOf(name))
    note("third")
    expect(noted()).toEqual(["first", "third"])
  })

  test("leaves nothing half done behind", async () => {
    note("first")
    const { name } = await house.makeCopy("asked")
    await house.putBack(house.pathOf(name))
    const loose = readdirSync(folder).filter((entry) => !/^(studio\.db(-wal|-shm)?|copies)$/.test(entry))
    expect(loose).toEqual([])
    expect(readdirSync(join(folder, "copies")).every((entry) => entry.endsWith(".db"))).toBe(true)
  })

  test("is made of a book in use: what is written meanwhile is in it whole or not at all", async () => {
    for (let n = 0; n < 200; n++) note(`before ${n}`)
    const copying = house.makeCopy("asked")
    for (let n = 0; n < 50; n++) note(`meanwhile ${n}`)
    const { name } = await copying
    const copy = new Database(house.pathOf(name), { readonly: true })
    const count = copy.prepare("SELECT count(*) FROM action").pluck().get() as number
    copy.close()
    expect(count).toBeGreaterThanOrEqual(200)
    expect(noted()).toHaveLength(250)
  })
})

describe("a file that is no sound copy changes nothing", () => {
  async function refused(spoil: (path: string) => void): Promise<string> {
    note("mine")
    const { name } = await house.makeCopy("asked")
    const spoilt = join(folder, "spoilt.db")
    copyFileSync(house.pathOf(name), spoilt)
    spoil(spoilt)
    const before = readFileSync(spoilt)
    let sentence = ""
    await house.putBack(spoilt).catch((error: Error) => {
      sentence = error.message
    })
    expect(noted()).toEqual(["mine"])
    expect(readFileSync(spoilt).equals(before)).toBe(true)
    rmSync(spoilt, { force: true })
    expect(readdirSync(folder).filter((entry) => entry.startsWith("restore-"))).toEqual([])
    return sentence
  }
  const run = (text: string) => (path: string) => {
    const db = new Database(path)
    db.pragma("foreign_keys = OFF")
    db.exec(text)
    db.pragma("journal_mode = DELETE")
    db.close()
  }

  test("a text", async () => {
    expect(await refused((path) => writeFileSync(path, "not a database"))).toMatch(
      /no copy of a studio.*“Take away” in the list of copies/,
    )
  })
  test("another program's database", async () => {
    expect(await refused(run("PRAGMA application_id = 7"))).toMatch(/another program/)
  })
  test("one of a newer Lotcup", async () => {
    expect(await refused(run("PRAGMA user_version = 99"))).toMatch(/newer Lotcup/)
  })
  test("one with a trigger that somebody put in", async () => {
    const trap = "CREATE TRIGGER trap AFTER INSERT ON action BEGIN DELETE FROM supply_hazard; END"
    expect(await refused(run(trap))).toMatch(/does not make \(trigger trap\)/)
  })
  test("one with a view in place of a table", async () => {
    expect(await refused(run("CREATE VIEW more AS SELECT * FROM action"))).toMatch(
      /does not make \(view more\)/,
    )
  })
  test("one that lacks a table", async () => {
    expect(await refused(run("DROP TABLE mark"))).toMatch(/lacks a part/)
  })
  test("one whose history does not agree with itself", async () => {
    const lie = "DROP TRIGGER action_stays; UPDATE action SET happened_on = '2031-01-01'"
    expect(await refused(run(lie))).toMatch(/does not agree with itself/)
  })
  test("half a file", async () => {
    const cut = (path: string) => writeFileSync(path, readFileSync(path).subarray(0, 20_000))
    expect(await refused(cut)).toMatch(/damaged|lacks|no copy/)
  })

  test("a trigger of our own that somebody changed is made anew", async () => {
    note("mine")
    const { name } = await house.makeCopy("asked")
    const changed = join(folder, "changed.db")
    copyFileSync(house.pathOf(name), changed)
    run(
      "DROP TRIGGER action_kept; CREATE TRIGGER action_kept AFTER INSERT ON action BEGIN DELETE FROM mark; END",
    )(changed)
    await house.putBack(changed)
    expect(() => house.studio.file.runText("DELETE FROM action")).toThrow(/never deleted/)
  })
})

describe("nightly copies", () => {
  test("one is due each night after three, and not twice", async () => {
    note("work")
    expect(isDue(house)).toBe(true)
    await house.makeCopy("nightly")
    expect(isDue(house)).toBe(false)
    // 02:59 of the next night in Chicago, then 03:00
    clock = Temporal.Instant.from("2026-12-02T08:59:00Z")
    expect(isDue(house)).toBe(false)
    clock = Temporal.Instant.from("2026-12-02T09:00:00Z")
    expect(isDue(house)).toBe(true)
  })

  test("none is made of a studio in which nothing was done", () => {
    expect(isDue(house)).toBe(false)
    expect(existsSync(join(folder, "copies"))).toBe(false)
  })

  test("after a year of nights about two dozen are kept, the newest among them; those asked for stay", async () => {
    note("work")
    await house.makeCopy("asked")
    // the rule is what is tested, not the copying: a year of names is enough
    const { name } = await house.makeCopy("nightly")
    const bytes = readFileSync(house.pathOf(name))
    for (let days = 1; days <= 365; days++) {
      const at = clock
        .subtract({ hours: 24 * days })
        .toString({ smallestUnit: "millisecond" })
        .replace(/[:.]/g, "")
      writeFileSync(join(folder, "copies", `lotcup-${at}-nightly.db`), days === 1 ? bytes : "")
    }
    later({ hours: 24 })
    const newest = await house.makeCopy("nightly")
    const nightly = house.copies().filter((copy) => copy.kind === "nightly")
    expect(nightly[0]?.name).toBe(newest.name)
    expect(nightly.length).toBeGreaterThan(18)
    expect(nightly.length).toBeLessThan(25)
    expect(house.copies().filter((copy) => copy.kind === "asked")).toHaveLength(1)
  })

  test("whatever days there are: the last seven are kept, and nothing is kept that was not there", () => {
    const today = "2026-12-01"
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 800 }), { maxLength: 60 }), (ago) => {
        const days = ago.map((n) => plusDays(today, -n))
        const kept = copiesKept(days, today)
        const newest = [...new Set(days)].sort().reverse()
        expect([...kept].every((day) => days.includes(day))).toBe(true)
        expect(newest.slice(0, 7).every((day) => kept.has(day))).toBe(true)
        expect(kept.size).toBeLessThanOrEqual(7 + 5 + 12)
      }),
    )
  })
})
