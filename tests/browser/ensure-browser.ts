import { findBrowser, installBrowser } from "./find-browser.ts"

/** Makes sure the browser tests have a browser, installing one where that can be done without asking. */

let browser = await findBrowser()
if (browser === null) {
  console.log("No Chromium, Chrome or Edge found: installing Chromium.")
  installBrowser()
  browser = await findBrowser()
}
if (browser === null) {
  console.error(
    "The browser tests need Chromium, Chrome or Edge and none could be installed. " +
      "Install one, or set LOTCUP_BROWSER to its path, then run the tests again.",
  )
  process.exit(1)
}
console.log(`Browser for the tests: ${browser}`)
