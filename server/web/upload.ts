import { randomUUID } from "node:crypto"
import { createWriteStream, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { pipeline } from "node:stream/promises"
import type { Request } from "express"
import { Refusal } from "../domain/refusal.ts"

/**
 * Keeps what a page's script sends as it is, in a file of its own that only we may read. The caller removes it.
 *
 * @param limits.bytes the most it may be
 * @param limits.otherwise said of a body that is no file
 * @returns the file's path
 * @throws {Refusal} 415 or 413; nothing stays then
 */
export async function receiveUpload(
  req: Request,
  limits: { bytes: number; tooLarge: string; otherwise: string },
): Promise<string> {
  if (!req.is("application/octet-stream")) throw new Refusal(limits.otherwise, { status: 415 })
  if (Number(req.headers["content-length"]) > limits.bytes)
    throw new Refusal(limits.tooLarge, { status: 413 })
  const path = join(tmpdir(), `lotcup-upload-${randomUUID()}`)
  let bytes = 0
  req.on("data", (part: Buffer) => {
    bytes += part.length
    if (bytes > limits.bytes) req.destroy(new Refusal(limits.tooLarge, { status: 413 }))
  })
  try {
    await pipeline(req, createWriteStream(path, { mode: 0o600, flags: "wx" }))
    return path
  } catch (error) {
    rmSync(path, { force: true })
    throw error
  }
}
