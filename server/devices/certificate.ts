import { createPrivateKey, randomUUID, X509Certificate } from "node:crypto"
import { chmodSync, mkdirSync, readFileSync, renameSync, writeFileSync } from "node:fs"
import { join } from "node:path"

/** What the second listener shows to phones. */
export interface Certificate {
  cert: string
  key: string
  /** SHA-256 in pairs of hex digits, as a phone shows it */
  fingerprint: string
}

const DAY_MS = 24 * 60 * 60 * 1000
/** Browsers take no certificate that runs longer (CA/Browser Forum baseline requirements, 6.3.2). */
const VALID_DAYS = 397
/** Made anew so long before it ends, so that no phone meets one that is out of date. */
const SPARE_DAYS = 30

/**
 * The certificate for an address, made once and kept in `folder`; made anew when the address is another, when it
 * ends within 30 days, or when certificate and key do not belong together. The key is readable by its owner only.
 *
 * @param address an IP address, written into the certificate
 */
export async function keptCertificate(folder: string, address: string, now: Date): Promise<Certificate> {
  mkdirSync(folder, { recursive: true, mode: 0o700 })
  const paths = { cert: join(folder, "certificate.pem"), key: join(folder, "key.pem") }
  const kept = read(paths)
  if (kept !== null && serves(kept, address, now)) return { ...kept, fingerprint: fingerprintOf(kept.cert) }

  // a hundred files that nothing else needs: read when a certificate is made, not at each start
  const { generate } = await import("selfsigned")
  const made = await generate([{ name: "commonName", value: "Lotcup on this network" }], {
    keyType: "ec",
    curve: "P-256",
    algorithm: "sha256",
    notBeforeDate: new Date(now.getTime() - DAY_MS),
    notAfterDate: new Date(now.getTime() + (VALID_DAYS - 1) * DAY_MS),
    extensions: [
      { name: "basicConstraints", cA: false, critical: true },
      { name: "keyUsage", digitalSignature: true, critical: true },
      { name: "extKeyUsage", serverAuth: true },
      { name: "subjectAltName", altNames: [{ type: 7, ip: address }] },
    ],
  })
  keep(paths.key, made.private)
  keep(paths.cert, made.cert)
  return { cert: made.cert, key: made.private, fingerprint: fingerprintOf(made.cert) }
}

function read(paths: { cert: string; key: string }): { cert: string; key: string } | null {
  try {
    return { cert: readFileSync(paths.cert, "utf8"), key: readFileSync(paths.key, "utf8") }
  } catch {
    return null
  }
}

function serves({ cert, key }: { cert: string; key: string }, address: string, now: Date): boolean {
  try {
    const known = new X509Certificate(cert)
    return (
      known.checkIP(address) !== undefined &&
      known.checkPrivateKey(createPrivateKey(key)) &&
      new Date(known.validFrom) <= now &&
      new Date(known.validTo).getTime() > now.getTime() + SPARE_DAYS * DAY_MS
    )
  } catch {
    // not a certificate or not a key: as good as none
    return false
  }
}

function fingerprintOf(cert: string): string {
  return new X509Certificate(cert).fingerprint256
}

/** Whole or not at all: a half-written key would lock every phone out. */
function keep(path: string, text: string): void {
  const half = `${path}.${randomUUID()}`
  writeFileSync(half, text, { mode: 0o600 })
  chmodSync(half, 0o600)
  renameSync(half, path)
}
