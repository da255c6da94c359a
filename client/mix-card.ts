/**
 * The mix card: pot-life clocks that go on while the page is away or the phone sleeps, since only the moment at
 * which A met B is kept.
 */

/** Warned from here on: this part of the time is left. */
const SOON = 1 / 4

for (const clock of document.querySelectorAll<HTMLElement>("[data-clock]")) wind(clock)

function wind(clock: HTMLElement): void {
  const part = <Kind extends HTMLElement>(name: string) => clock.querySelector<Kind>(`[data-${name}]`) as Kind
  const [start, stop] = [part<HTMLButtonElement>("start"), part<HTMLButtonElement>("stop")]
  const [digits, says] = [part("digits"), part("says")]
  const [minutes, mixing] = [Number(clock.dataset.minutes), Number(clock.dataset.mixing)]
  const key = `lotcup-mix-${clock.dataset.clock}`
  const before = { digits: digits.textContent, says: says.textContent }
  let begun = Number(kept(key) ?? 0)
  let ticking = 0
  let told = ""

  const show = () => {
    const running = begun > 0
    start.hidden = running
    stop.hidden = !running
    const left = minutes * 60 - Math.floor((Date.now() - begun) / 1000)
    digits.textContent = running ? inDigits(left) : before.digits
    const state = !running ? "" : left <= 0 ? "over" : left <= minutes * 60 * SOON ? "soon" : "runs"
    clock.dataset.state = state
    const stirring = minutes * 60 - left < mixing * 60
    const words = {
      "": before.says ?? "",
      runs: stirring ? "Stir, scraping sides and bottom." : "Coat now.",
      soon: "It thickens soon: finish the cup you are on.",
      over: "Past its pot life: do not use it any more. If it is hot, carry it outdoors.",
    }[state]
    // said aloud only when it changes
    if (words !== told) {
      says.textContent = words
      if (told !== "" && (state === "soon" || state === "over")) navigator.vibrate?.([200, 100, 200])
      told = words
    }
  }
  const run = (from: number) => {
    begun = from
    keep(key, from === 0 ? null : String(from))
    clearInterval(ticking)
    if (from > 0) ticking = window.setInterval(show, 500)
    show()
  }

  start.addEventListener("click", () => {
    run(Date.now())
    // the screen stays on while something cures; not every browser can
    navigator.wakeLock?.request("screen").catch(() => undefined)
  })
  stop.addEventListener("click", () => run(0))
  run(begun)
}

/** "39:05"; past the end it counts on with a minus. */
function inDigits(seconds: number): string {
  const whole = Math.abs(seconds)
  const text = `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`
  return seconds < 0 ? `−${text}` : text
}

/** A browser may forbid keeping anything: then the clock runs while the page stands. */
function kept(key: string): string | null {
  try {
    return localStorage.getItem(key)
  } catch {
    return null
  }
}

function keep(key: string, value: string | null): void {
  try {
    if (value === null) localStorage.removeItem(key)
    else localStorage.setItem(key, value)
  } catch {
    // nothing to do
  }
}
