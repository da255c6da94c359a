import { execFileSync } from "node:child_process"
import { existsSync } from "node:fs"

const PLACES = [
  "/usr/bin/chromium",
  "/usr/bin/chromium-browser",
  "/usr/bin/google-chrome",
  "/usr/bin/google-chrome-stable",
  "/usr/bin/microsoft-edge",
  "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
  "/Applications/Chromium.app/Contents/MacOS/Chromium",
  "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
  "C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe",
  "C:\\Program Files (x86)\\Microsoft\\Edge\\Application\\msedge.exe",
]

/** The Chromium, Chrome or Edge of this machine, or null. `LOTCUP_BROWSER` names another. */
export async function findBrowser(): Promise<string | null> {
  const named = process.env.LOTCUP_BROWSER
  if (named && existsSync(named)) return named
  const here = PLACES.find((place) => existsSync(place))
  if (here) return here
  const { chromium } = await import("playwright-core")
  const own = chromium.executablePath()
  return own && existsSync(own) ? own : null
}

/** Installs one: by apt as root on Debian, else by Playwright's installer. Says nothing when it cannot. */
export function installBrowser(): void {
  const run = (command: string, args: string[]) => {
    try {
      execFileSync(command, args, { stdio: "inherit" })
      return true
    } catch {
      return false
    }
  }
  const isRootOnDebian = existsSync("/usr/bin/apt-get") && process.getuid?.() === 0
  if (isRootOnDebian && run("apt-get", ["update", "-q"]) && run("apt-get", ["install", "-yq", "chromium"]))
    return
  run("npx", ["playwright-core", "install", "chromium"])
}
