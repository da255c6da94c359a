/**
 * A page that answers a form takes the address of a page again, so that Back and "load again" show that page and
 * never ask whether to send the form once more.
 */
export function leavePost(): void {
  const posted = document.documentElement.dataset.posted
  if (posted === undefined) return
  // a form without an address is sent to that of its page, which is about to change
  for (const form of document.forms) {
    if (form.method === "post" && !form.hasAttribute("action")) form.setAttribute("action", location.href)
  }
  history.replaceState(history.state, "", addressAfter(posted, location.href, document.referrer))
}

/**
 * Where a page belongs that was got by sending a form.
 *
 * @param posted "own" when the address the form was sent to shows the page by itself
 * @param referrer the page the form stood on; "" when the browser does not say
 */
export function addressAfter(posted: string, address: string, referrer: string): string {
  const here = new URL(address)
  const from = URL.canParse(referrer) ? new URL(referrer) : null
  const isSent = from?.origin === here.origin
  // its own, and with what stood behind the "?" of it
  if (from === null || !isSent || (posted === "own" && from.pathname !== here.pathname)) return here.href
  from.hash = here.hash
  return from.href
}
