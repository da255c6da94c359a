const MUTED = "lotcup.scan.muted"
const SHAKE_MS = 60

/** A short beep and a shake for each read, so that nobody has to look. */
export class Feedback {
  #sound: AudioContext | null = null
  #muted = isKept()

  get isMuted(): boolean {
    return this.#muted
  }

  /** Remembered on this device. */
  mute(muted: boolean): void {
    this.#muted = muted
    try {
      localStorage.setItem(MUTED, muted ? "yes" : "no")
    } catch {
      // then it holds until the page is left
    }
  }

  /** Something was read. */
  read(): void {
    navigator.vibrate?.(SHAKE_MS)
    if (this.#muted) return
    try {
      this.#beep()
    } catch {
      // a device without sound
    }
  }

  #beep(): void {
    this.#sound ??= new AudioContext()
    // silent until the page has been touched once: the browser's rule
    if (this.#sound.state === "suspended") void this.#sound.resume().catch(() => {})
    const now = this.#sound.currentTime
    const tone = this.#sound.createOscillator()
    const loudness = this.#sound.createGain()
    tone.frequency.value = 1760
    loudness.gain.setValueAtTime(0.2, now)
    // not cut off, which would click
    loudness.gain.exponentialRampToValueAtTime(0.001, now + 0.12)
    tone.connect(loudness).connect(this.#sound.destination)
    tone.start(now)
    tone.stop(now + 0.12)
  }
}

function isKept(): boolean {
  try {
    return localStorage.getItem(MUTED) === "yes"
  } catch {
    return false
  }
}
