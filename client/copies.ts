/** Sends a copy from this computer as it is; the server looks it over. */

const place = document.querySelector<HTMLElement>("[data-upload]")
const picked = place?.querySelector<HTMLInputElement>("input[type=file]")
const status = place?.querySelector<HTMLElement>("[data-upload-status]")
const button = place?.querySelector<HTMLButtonElement>("[data-upload-send]")

if (place && picked && status && button) {
  place.hidden = false
  button.addEventListener("click", async () => {
    const file = picked.files?.[0]
    if (!file) {
      status.textContent = "Choose a file first."
      return
    }
    button.disabled = true
    status.textContent = "Looking it over…"
    try {
      const answer = await fetch("/setup/copies/upload", {
        method: "POST",
        headers: { Accept: "application/json", "Content-Type": "application/octet-stream" },
        body: file,
      })
      const told: { sentence: string; to?: string } = await answer.json()
      status.textContent = told.sentence
      if (answer.ok && told.to) location.assign(told.to)
    } catch {
      status.textContent =
        "Lotcup does not answer. See whether it still runs, then try again; nothing was changed."
    } finally {
      button.disabled = false
    }
  })
}
