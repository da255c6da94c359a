import type { RequestListener } from "node:http"
import { createServer } from "node:https"
import { networkInterfaces } from "node:os"
import { join } from "node:path"
import type { Studio } from "../ledger/studio.ts"
import { keptCertificate } from "./certificate.ts"

/** The second listener while it runs. */
export interface NetworkListener {
  url: string
  fingerprint: string
  close: () => void
}

/**
 * The address phones in the same network reach this computer at: the first private IPv4 one (RFC 1918), else null.
 *
 * @param interfaces as `os.networkInterfaces()` tells them
 */
export function networkAddress(
  interfaces: ReturnType<typeof networkInterfaces> = networkInterfaces(),
): string | null {
  for (const addresses of Object.values(interfaces)) {
    const found = addresses?.find((one) => one.family === "IPv4" && !one.internal && isPrivate(one.address))
    if (found) return found.address
  }
  return null
}

function isPrivate(address: string): boolean {
  const [a = 0, b = 0] = address.split(".").map(Number)
  return a === 10 || (a === 172 && b >= 16 && b <= 31) || (a === 192 && b === 168)
}

/**
 * Listens with HTTPS on one address of the local network and no other.
 *
 * @param where.port 0 takes a free one
 * @param where.folder the studio's data; certificate and key are kept in a folder of it
 * @param answer makes the application for phones; the port is known once it listens
 */
export async function listenOnNetwork(
  studio: Studio,
  where: { address: string; port: number; folder: string },
  answer: (port: () => number) => RequestListener,
): Promise<NetworkListener> {
  const now = new Date(studio.now().epochMilliseconds)
  const { cert, key, fingerprint } = await keptCertificate(join(where.folder, "lan"), where.address, now)
  let port = where.port
  const server = createServer(
    { cert, key, minVersion: "TLSv1.2" },
    answer(() => port),
  )
  await new Promise<void>((listening, failed) => {
    server.once("error", failed)
    server.listen(where.port, where.address, listening)
  })
  const at = server.address()
  if (at !== null && typeof at === "object") port = at.port
  return {
    url: `https://${where.address}:${port}/`,
    fingerprint,
    close: () => {
      server.closeAllConnections()
      server.close()
    },
  }
}
