/** The longer side, in pixels: inkjet text is still sharp, and a photo is some hundred kilobytes. */
const LONGEST_SIDE = 1600
const QUALITY = 0.8

/**
 * Photos of labels and of cups, wherever a page has a place for one. A photo is drawn anew before it leaves: what the camera
 * wrote into its file, like where it was taken, stays behind.
 */
export function listenForLabelPhotos(): void {
  document.addEventListener("change", (event) => {
    const input = event.target
    if (input instanceof HTMLInputElement && input.matches("[data-label-photo]")) void take(input)
  })
}

async function take(input: HTMLInputElement): Promise<void> {
  const file = input.files?.[0]
  const form = input.closest("form")
  if (file === undefined || form === null) return
  const say = (sentence: string) => {
    const state = form.querySelector("[data-photo-state]")
    if (state !== null) state.textContent = sentence
  }
  say("Keeping the photo…")
  try {
    const photoId = await send(await drawnAnew(file))
    // it belongs to the form it stands in, or to the receipt before it
    const place = form.querySelector<HTMLInputElement>("[data-photo-id]") ?? receiptOf(form)
    if (place === null) return
    place.value = String(photoId)
    say(form.dataset.photoKept ?? "The photo is kept with the receipt once you take it in.")
    const words = form.querySelector("[data-photo-words]")
    if (words !== null) words.textContent = "Another photo"
    if (form.matches("[data-photo-send]")) form.requestSubmit()
  } catch (error) {
    say(error instanceof PhotoProblem ? error.message : "The photo could not be sent. Try it once more.")
  } finally {
    // so that the same photo can be picked again
    input.value = ""
  }
}

function receiptOf(form: HTMLFormElement): HTMLInputElement | null {
  const before = form.parentElement?.querySelector("[data-receipt] [data-photo-id]")
  return before instanceof HTMLInputElement ? before : null
}

class PhotoProblem extends Error {}

async function drawnAnew(file: Blob): Promise<Blob> {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" }).catch(() => {
    throw new PhotoProblem("That file is not a picture. Pick a photo.")
  })
  try {
    const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height))
    const canvas = document.createElement("canvas")
    canvas.width = Math.max(1, Math.round(picture.width * scale))
    canvas.height = Math.max(1, Math.round(picture.height * scale))
    canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height)
    const drawn = await new Promise<Blob | null>((done) => canvas.toBlob(done, "image/jpeg", QUALITY))
    if (drawn === null) throw new PhotoProblem("This browser cannot keep a photo. Type what the label says.")
    return drawn
  } finally {
    picture.close()
  }
}

async function send(photo: Blob): Promise<number> {
  const answer = await fetch("/receive/photos", {
    method: "POST",
    body: photo,
    headers: { Accept: "application/json", "Content-Type": photo.type },
  })
  const said = (await answer.json()) as { photoId?: unknown; sentence?: unknown }
  if (typeof said.photoId === "number") return said.photoId
  throw new PhotoProblem(typeof said.sentence === "string" ? said.sentence : "The photo was not kept.")
}
