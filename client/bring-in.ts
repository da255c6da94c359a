/** Sends a table as it is, shows how far the server is with it, and goes on when it is done. */

const AGAIN_MS = 400

interface Progress {
  stage: string
  rows: number
  of: number
}

for (const place of document.querySelectorAll<HTMLElement>("[data-bring-in]")) {
  const picked = place.querySelector<HTMLInputElement>("input[type=file]")
  const decimals = place.querySelector<HTMLSelectElement>("select")
  const status = place.querySelector<HTMLElement>("[data-status]")
  const button = place.querySelector<HTMLButtonElement>("[data-send]")
  if (!picked || !decimals || !status || !button) continue
  place.hidden = false
  button.addEventListener("click", async () => {
    const file = picked.files?.[0]
    if (!file) {
      status.textContent = "Choose a file first."
      return
    }
    button.disabled = true
    status.textContent = "Sending it…"
    const url = `/setup/bring-in/${place.dataset.bringIn}/upload?decimals=${decimals.value}`
    const told = await sent(url, { "Content-Type": "application/octet-stream" }, file)
    button.disabled = false
    status.textContent = told.sentence ?? ""
    if (told.to) location.assign(told.to)
  })
}

const working = document.querySelector<HTMLElement>("[data-progress]")
if (working?.dataset.progress) {
  const address = working.dataset.progress
  const bar = working.querySelector("progress")
  const rows = working.querySelector("[data-rows]")
  follow(address, (progress) => {
    if (bar) show(bar, progress)
    if (rows) rows.textContent = progress.rows.toLocaleString("en-US")
    if (progress.stage !== "looking" && progress.stage !== "writing") location.reload()
  })
}

const form = document.querySelector<HTMLFormElement>("[data-bring-all]")
const writing = document.querySelector<HTMLElement>("[data-writing]")
if (form?.dataset.bringAll && writing) {
  const address = form.dataset.bringAll
  form.addEventListener("submit", async (event) => {
    event.preventDefault()
    const bar = writing.querySelector("progress")
    const status = writing.querySelector<HTMLElement>("[data-status]")
    const button = form.querySelector("button")
    if (!bar || !status || !button) return
    writing.hidden = false
    button.disabled = true
    status.textContent = "Bringing it in…"
    const stop = follow(address, (progress) => show(bar, progress))
    const body = new URLSearchParams([...new FormData(form)].map(([name, value]) => [name, String(value)]))
    const told = await sent(location.pathname, {}, body)
    stop()
    status.textContent = told.sentence ?? ""
    button.disabled = false
    if (!told.to) return
    // the same form once more, which is answered as it was and brings its notice with it
    form.submit()
  })
}

function show(bar: HTMLProgressElement, { rows, of }: Progress): void {
  bar.max = Math.max(1, of)
  bar.value = rows
}

/** Asks again and again how far it is. @returns stops it */
function follow(address: string, tell: (progress: Progress) => void): () => void {
  const timer = setInterval(async () => {
    try {
      const answer = await fetch(address, { headers: { Accept: "application/json" } })
      if (answer.ok) tell((await answer.json()) as Progress)
    } catch {
      // asked again in a moment
    }
  }, AGAIN_MS)
  return () => clearInterval(timer)
}

async function sent(
  url: string,
  headers: Record<string, string>,
  body: BodyInit,
): Promise<{ sentence?: string; to?: string }> {
  try {
    const answer = await fetch(url, {
      method: "POST",
      headers: { Accept: "application/json", ...headers },
      body,
    })
    const told = (await answer.json()) as { sentence?: string; to?: string }
    return answer.ok ? told : { sentence: told.sentence ?? "That was not done." }
  } catch {
    return { sentence: "Lotcup does not answer. See whether it still runs, then try again." }
  }
}
