import axeCore from "axe-core"
import type { Page } from "playwright-core"

interface Violation {
  id: string
  impact: string | null
  nodes: { html: string; target: unknown[] }[]
}

const MOST_SHOWN = 3

/** Listens to a page's console. The errors come out once, at the next `faultsOf`. */
export function listenForErrors(page: Page): string[] {
  const errors: string[] = []
  page.on("pageerror", (error) => errors.push(`script: ${error.message}`))
  page.on("console", (message) => {
    if (message.type() !== "error") return
    // how the browser tells that the page itself was refused or is not there
    const isItself = message.location().url === page.url() && /status of 4\d\d/.test(message.text())
    if (!isItself) errors.push(`console: ${message.text()}`)
  })
  return errors
}

/**
 * What is wrong with the page that is shown, with everything on it unfolded: headings, anything a finger must push
 * sideways for, what axe calls serious or critical, what stands in the console.
 */
export async function faultsOf(page: Page, errors: string[]): Promise<string[]> {
  await page.evaluate(() => {
    for (const fold of document.querySelectorAll<HTMLDetailsElement>("main details")) fold.open = true
  })
  const shape = await page.evaluate(() => {
    const { clientWidth, scrollWidth } = document.documentElement
    const wide = [...document.querySelectorAll("main *, header *")].filter(
      (element) => element.getBoundingClientRect().right > clientWidth + 1,
    )
    return { clientWidth, scrollWidth, widest: wide.at(-1)?.outerHTML.slice(0, 120) ?? "" }
  })
  const headings = await page.locator("h1").count()
  if (!(await page.evaluate(() => "axe" in window))) await page.evaluate(axeCore.source)
  const violations = await page.evaluate(async () => {
    const { axe } = window as unknown as {
      axe: { run(options: object): Promise<{ violations: Violation[] }> }
    }
    // a rule of moderate weight that looks at every element: nothing it finds would be counted
    const rules = { region: { enabled: false } }
    return (await axe.run({ resultTypes: ["violations"], rules })).violations
  })
  return [
    ...(headings === 1 ? [] : [`${headings} first headings`]),
    ...(shape.scrollWidth <= shape.clientWidth
      ? []
      : [`${shape.scrollWidth} px wide on ${shape.clientWidth}: ${shape.widest}`]),
    ...violations
      .filter(({ impact }) => impact === "serious" || impact === "critical")
      .map(
        ({ id, nodes }) =>
          `${id}: ${nodes
            .slice(0, MOST_SHOWN)
            .map(({ html }) => html.slice(0, 160))
            .join(" | ")}`,
      ),
    ...errors.splice(0),
  ]
}
