import { createHash, randomBytes } from "node:crypto"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"

/** A phone or tablet that may do daily work. */
export interface Device {
  id: number
  name: string
  pairedAt: string
  lastSeenAt: string
}

const SEEN_EVERY_MIN = 10

/** Lets a device in. @returns its token, which is told once and kept only as a hash */
export function letIn(studio: Studio, name: string): { id: number; token: string } {
  const token = randomBytes(32).toString("base64url")
  const at = studio.now().toString({ smallestUnit: "millisecond" })
  const id = studio.file.transaction(() =>
    studio.file.insert("device", {
      name: freeName(studio, name),
      token_hash: hashOf(token),
      paired_at: at,
      last_seen_at: at,
    }),
  )
  return { id, token }
}

/** The device a token belongs to; null when it was never let in, or was thrown out. */
export function deviceWith(studio: Studio, token: string): Device | null {
  const device = studio.file.firstText<Device>(`${DEVICES} AND token_hash = ?`, [hashOf(token)])
  if (!device) return null
  const now = studio.now()
  if (now.since(device.lastSeenAt).total("minutes") >= SEEN_EVERY_MIN) {
    studio.file.runText("UPDATE device SET last_seen_at = ? WHERE id = ?", [
      now.toString({ smallestUnit: "millisecond" }),
      device.id,
    ])
  }
  return device
}

/** Devices that are let in, the latest seen first. */
export function devices(studio: Studio): Device[] {
  return studio.file.allText(`${DEVICES} ORDER BY last_seen_at DESC, id DESC`)
}

/** Throws a device out: what it asks next gets no answer. Its name stays on what it did. */
export function throwOut(studio: Studio, id: number): Device {
  const device = studio.file.firstText<Device>(`${DEVICES} AND id = ?`, [id])
  if (!device) throw new Refusal("This phone is not let in any more.", { status: 404 })
  studio.file.runText("UPDATE device SET removed_at = ? WHERE id = ?", [
    studio.now().toString({ smallestUnit: "millisecond" }),
    id,
  ])
  return device
}

const DEVICES =
  "SELECT id, name, paired_at AS pairedAt, last_seen_at AS lastSeenAt FROM device WHERE removed_at IS NULL"

/** Two phones of one name could not be told apart in the history. */
function freeName(studio: Studio, wanted: string): string {
  const taken = new Set(
    studio.file.allText<{ name: string }>("SELECT name FROM device").map((row) => row.name),
  )
  if (!taken.has(wanted)) return wanted
  for (let nth = 2; ; nth++) {
    const name = `${wanted.slice(0, 34)} ${nth}`
    if (!taken.has(name)) return name
  }
}

function hashOf(token: string): string {
  return createHash("sha256").update(token).digest("hex")
}
