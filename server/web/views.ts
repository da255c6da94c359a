import { readdirSync, readFileSync } from "node:fs"
import { join } from "node:path"
import { fileURLToPath } from "node:url"
import Handlebars from "handlebars"
import type { SheetSize } from "../domain/plan.ts"
import type { UnitSystem } from "../domain/units.ts"
import type { PageModel } from "./answers.ts"
import type { Assets } from "./assets.ts"
import type { FormState } from "./forms.ts"
import { helpers } from "./helpers.ts"
import type { IconName } from "./icons.ts"
import type { Notice } from "./notice.ts"

/** What pages need to know of the studio: how it writes amounts, money and days. */
export interface StudioView {
  studioName: string
  units: UnitSystem
  currency: string
  /** calendar day in the studio's time zone */
  today: string
  timeZone: string
  isDemo: boolean
  /** one sheet of each supply that comes in sheets, by the supply's id: `{{amount left "mm2" of=supplyId}}` */
  sheets?: ReadonlyMap<number, SheetSize>
  /** how many supplies are low: the number on the shelf's button */
  lowCount?: number
}

/** A room's button. On a phone the first four stand in the bar, the others under More. */
export interface NavigationItem {
  to: string
  label: string
  icon: IconName
  /** shows how many supplies are low */
  showsLow?: boolean
}

/** What helpers and the layout see besides the page's model, in views as `@studio`, `@form`, … */
export interface Frame {
  studio: StudioView
  form: FormState | null
  notice: Notice | null
  navigation: readonly (NavigationItem & { current: boolean })[]
  here: string
  /**
   * the page answers a form that was sent, so going back to it or loading it again would send the form again;
   * "own": the address it was sent to shows the same page by itself
   */
  posted: "own" | "other" | null
}

type Template = Handlebars.TemplateDelegate<unknown>

const OWN = fileURLToPath(new URL("views/", import.meta.url))
const STRICT: CompileOptions = {
  // a name that is not there is a mistake, not an empty place
  strict: true,
  // a partial sees what it is given and nothing else
  explicitPartialContext: true,
  preventIndent: true,
}
const ON_THE_BAR = 4

/** Views of all rooms, each compiled once, when first shown. */
export class Views {
  readonly #engine = Handlebars.create()
  readonly #roots: Readonly<Record<string, string>>
  readonly #compiled = new Map<string, Template>()

  /**
   * @param roots folder of views by capability. Files whose name begins with "_" are partials:
   *   `server/shelf/views/_container.hbs` is used as `{{> shelf/_container this}}`
   */
  constructor(roots: Readonly<Record<string, string>>, assets: Assets) {
    this.#roots = roots
    this.#engine.registerHelper(helpers(assets))
    this.#registerPartials(join(OWN, "partials"), "", () => true)
    for (const [room, folder] of Object.entries(roots))
      this.#registerPartials(folder, `${room}/`, (file) => file.startsWith("_"))
  }

  /** The whole page: the view in its layout. */
  page(view: string, model: PageModel, frame: Frame): string {
    const data = {
      ...frame,
      bar: frame.navigation.slice(0, ON_THE_BAR),
      more: frame.navigation.slice(ON_THE_BAR),
    }
    const body = new Handlebars.SafeString(this.#template(view)(model, { data: { ...data } }))
    const frameModel = { title: model.title, lead: model.lead, back: model.back, body }
    return this.#template("layout")(frameModel, { data: { ...data } })
  }

  #template(view: string): Template {
    const known = this.#compiled.get(view)
    if (known !== undefined) return known
    const template: Template = this.#engine.compile(readFileSync(this.#file(view), "utf8"), STRICT)
    this.#compiled.set(view, template)
    return template
  }

  #file(view: string): string {
    const [room, name, ...rest] = view.split("/")
    if (name === undefined) return join(OWN, `${room}.hbs`)
    const root = this.#roots[room as string]
    if (root === undefined || rest.length > 0 || !/^[\w-]+$/.test(name)) throw new Error(`No view ${view}`)
    return join(root, `${name}.hbs`)
  }

  #registerPartials(folder: string, prefix: string, isPartial: (file: string) => boolean): void {
    for (const file of readdirSync(folder))
      if (file.endsWith(".hbs") && isPartial(file)) {
        const template = this.#engine.compile(readFileSync(join(folder, file), "utf8"), STRICT)
        this.#engine.registerPartial(prefix + file.slice(0, -".hbs".length), template)
      }
  }
}

/** The folders of views under `server/`: `{ shelf: ".../server/shelf/views", … }`. */
export function findViewRoots(serverFolder: string): Record<string, string> {
  const roots: Record<string, string> = {}
  for (const entry of readdirSync(serverFolder, { withFileTypes: true })) {
    if (!entry.isDirectory() || entry.name === "web") continue
    const inside = readdirSync(join(serverFolder, entry.name), { withFileTypes: true })
    if (inside.some((one) => one.isDirectory() && one.name === "views"))
      roots[entry.name] = join(serverFolder, entry.name, "views")
  }
  return roots
}
