import type { Listening } from "../http/listening.ts"

/** Sends a file as the page's script does. @returns the status, and where its page is or why not */
export async function sendTable(
  here: Pick<Listening, "url">,
  kind: string,
  text: string | Uint8Array,
  decimals = "either",
): Promise<{ status: number; to?: string; sentence?: string }> {
  const answer = await fetch(`${here.url}/setup/bring-in/${kind}/upload?decimals=${decimals}`, {
    method: "POST",
    headers: { "Content-Type": "application/octet-stream", Accept: "application/json", Origin: here.url },
    body: typeof text === "string" ? new TextEncoder().encode(text) : new Uint8Array(text),
  })
  return { status: answer.status, ...((await answer.json()) as { to?: string; sentence?: string }) }
}
