import { BrowserCodeReader } from "@zxing/browser"

/** One of the cameras that the device has. */
export interface Lens {
  id: string
  label: string
}

const CHOSEN = "lotcup.scan.lens"
const BACK = /back|rear|environment|rück|arrière|trasera/i

/** Every lens, those on the back first. Known by name only once the camera has been allowed. */
export async function lenses(): Promise<Lens[]> {
  const devices = await BrowserCodeReader.listVideoInputDevices()
  const all = devices
    .filter(({ deviceId }) => deviceId !== "")
    .map(({ deviceId, label }) => ({ id: deviceId, label }))
  return [...all.filter(({ label }) => BACK.test(label)), ...all.filter(({ label }) => !BACK.test(label))]
}

/** The one after this in a round of all of them. */
export function lensAfter(all: readonly Lens[], id: string | undefined): Lens | null {
  return all[(all.findIndex((lens) => lens.id === id) + 1) % all.length] ?? null
}

/** The lens chosen last on this device. */
export function lensChosen(): string | null {
  try {
    return localStorage.getItem(CHOSEN)
  } catch {
    return null
  }
}

/** Remembers a lens for the next time; null forgets it. */
export function chooseLens(id: string | null): void {
  try {
    if (id === null) localStorage.removeItem(CHOSEN)
    else localStorage.setItem(CHOSEN, id)
  } catch {
    // then it is asked for again
  }
}
