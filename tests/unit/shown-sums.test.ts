import { Temporal } from "temporal-polyfill"
import { expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { designPage } from "../../server/designs/design-page.ts"
import { designs } from "../../server/designs/service.ts"

const now = Temporal.Instant.from("2026-11-28T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
const CENT = 10_000

test.each(designs(studio))(
  "$name: supplies add up to materials, and with work and what is left to the price",
  ({ designId, priceMicro }) => {
    const { made } = designPage(studio, designId, { version: null, cups: 1 })
    const { totals, materials, labourMicro, leftMicro } = made!
    const shown = [...totals.map((total) => total.costMicro!), materials.micro!, labourMicro, leftMicro!]
    expect(shown.filter((micro) => micro % CENT !== 0)).toEqual([])
    expect(totals.reduce((sum, { costMicro }) => sum + costMicro!, 0)).toBe(materials.micro)
    expect(materials.micro! + labourMicro + leftMicro!).toBe(priceMicro)
  },
)
