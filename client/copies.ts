/** Sends a copy from this computer as it is; the server looks it over. */

const place = document.querySelector<HTMLElement>("[data-upload]")
const picked = place?.querySelector<HTMLInputElement>("input[type=file]")
const status = place?.querySelector<HTMLElement>("[data-upload-status]")
const button = place?.querySelector<HTMLButtonElement>("[data-upload-send]")

/** The file that was asked about; a second tap on the same one puts it back. */
let asked: File | null = null

if (place && picked && status && button) {
  place.hidden = false
  const first = button.textContent
  picked.addEventListener("change", () => {
    asked = null
    status.textContent = ""
    button.textContent = first
  })
  button.addEventListener("click", async () => {
    const file = picked.files?.[0]
    if (!file) {
      status.textContent = "Choose a file first."
      return
    }
    if (!/\.(db|zip)$/i.test(file.name)) {
      status.textContent = `${file.name} is no copy of a studio. ${place.dataset.whichFile}`
      return
    }
    if (file !== asked) {
      asked = file
      status.textContent = `${file.name} takes the place of all that is in the book now. What was done since then is not in it. The book as it is now is kept as a copy first.`
      button.textContent = "Yes, put it back"
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
      const told: { sentence: string } = await answer.json()
      status.textContent = told.sentence
      if (answer.ok) {
        status.classList.remove("problem")
        picked.remove()
        button.remove()
      } else button.textContent = first
      asked = null
    } catch {
      status.textContent =
        "Lotcup does not answer. See whether it still runs, then try again; nothing was changed."
    } finally {
      button.disabled = false
    }
  })
}
