import express, { type Request, type Response, type Router } from "express"
import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import { act } from "../ledger/act.ts"
import { changed, made } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { count, idempotencyKey, orEmpty } from "../web/fields.ts"
import { idParam, type Problem, problemsOf, readForm, readQuery } from "../web/forms.ts"
import { flatten, type Typed } from "../web/nest.ts"
import { designPage } from "./design-page.ts"
import { type Draft, DraftForm, EMPTY_DRAFT } from "./draft.ts"
import { entryOf } from "./draft-entry.ts"
import { step } from "./draft-steps.ts"
import { draftOf } from "./draft-text.ts"
import { choicesOf, editorModel } from "./editor-page.ts"
import type { DesignInput } from "./inputs.ts"
import { addDesign, changeDesign, designs, latestVersionId, versionOf } from "./service.ts"
import { Suggested, type Suggestion, suggestedVersion, suggestionIn } from "./suggestion.ts"

const MOST_TOGETHER = 200

const Asked = z.object({
  version: orEmpty(count(100_000, "Version")),
  cups: z.preprocess(
    (raw) => (raw === "" || raw === undefined ? "1" : raw),
    count(MOST_TOGETHER, "Cups made together"),
  ),
})
const From = z.object({ from: orEmpty(count(1e15, "Design")) })
/** A blank that was just added from the editor: it comes back with it chosen. */
const NewBlank = z.object({ blank: orEmpty(count(1e15, "Cup")) })

/** Designs: all of them, one with what it takes, and the editor. */
export function designsRoutes(studio: Studio): Router {
  const router = express.Router()

  router.get("/designs", (_req, res) => {
    const all = designs(studio)
    res.page("designs/designs", {
      title: "Designs",
      lead: all.length === 0 ? "There is no design yet." : "What goes on a cup, layer by layer.",
      designs: all,
    })
  })

  router.get("/designs/new", (req, res) => {
    const { from } = readQuery(From, req)
    show(res, studio, NEW, withBlank(req, from === null ? EMPTY_DRAFT : likeIt(studio, from)))
  })
  router.post("/designs/new", (req, res) =>
    edit(req, res, studio, NEW, (key, design) => {
      const done = act(studio, "design", by(res, key), design, (now) => ({
        answer: made(now, "design", () => addDesign(studio, design).designId),
        summary: `The design ${design.name.trim()} is kept`,
      }))
      res.saved(`${done.summary}.`, {
        to: `/designs/${done.answer}`,
        undo: done.actionId,
        undoTo: "/designs",
      })
    }),
  )

  router.get("/designs/:id", (req, res) => {
    res.page("designs/design", designPage(studio, idParam(req), readQuery(Asked, req)))
  })

  router.get("/designs/:id/edit", (req, res) => {
    const suggestion = suggestionIn(readQuery(Suggested, req))
    const { about, draft } = existing(studio, idParam(req), suggestion)
    show(res, studio, about, withBlank(req, draft))
  })
  router.post("/designs/:id/edit", (req, res) => {
    const designId = idParam(req)
    const { about } = existing(studio, designId)
    edit(req, res, studio, about, (key, design) => {
      const done = act(studio, "design", by(res, key), { designId, ...design }, (now) => {
        const name = design.name.trim()
        let version: number | null = null
        changed(now, "design", designId, () => {
          const { number, isNew } = changeDesign(studio, designId, design)
          if (isNew) version = number
        })
        const summary =
          version === null
            ? `The design ${name} is changed`
            : `The design ${name} is kept as version ${version}`
        return { summary, answer: { isNew: version !== null } }
      })
      const still = " Batches already begun keep the version they began with."
      res.saved(`${done.summary}.${done.answer.isNew ? still : ""}`, {
        to: `/designs/${designId}`,
        undo: done.actionId,
      })
    })
  })
  return router
}

/** What an editor page says of itself. */
interface About {
  title: string
  lead: string
  back: { to: string; label: string }
  action: string
}

const NEW: About = {
  title: "A new design",
  lead: "Choose the cup, then add the layers in the order you put them on.",
  back: { to: "/designs", label: "Designs" },
  action: "/designs/new",
}

/** @param suggestion a figure that measuring suggests: it is filled in, its layer unfolded, nothing kept */
function existing(
  studio: Studio,
  designId: number,
  suggestion: Suggestion | null = null,
): { about: About; draft: Draft } {
  const version = versionOf(studio, latestVersionId(studio, designId))
  const input = suggestion === null ? version.input : suggestedVersion(version.input, suggestion)
  const draft = draftOf({ name: version.name, version: input }, choicesOf(studio))
  const changed = suggestion && draft.layers[suggestion.layer - 1]
  if (changed) changed.open = "1"
  const filledIn = changed ? `What was measured is filled in at ${changed.name}: look at it, then save. ` : ""
  return {
    about: {
      title: `Change ${version.name}`,
      lead: `${filledIn}${
        version.frozen
          ? `Batches use version ${version.number}, so it stays as it is: what you save here becomes version ${version.number + 1}.`
          : "No batch uses it yet, so it is changed in place."
      }`,
      back: { to: `/designs/${designId}`, label: version.name },
      action: `/designs/${designId}/edit`,
    },
    draft,
  }
}

function withBlank(req: Request, draft: Draft): Draft {
  const { blank } = readQuery(NewBlank, req)
  return blank === null ? draft : { ...draft, blankSupplyId: String(blank) }
}

function likeIt(studio: Studio, versionId: number): Draft {
  const { name, input } = versionOf(studio, versionId)
  return draftOf({ name: `${name}, another`, version: input }, choicesOf(studio))
}

/** A button of the editor: it shows the draft again with the step done, or keeps the design. */
function edit(
  req: Request,
  res: Response,
  studio: Studio,
  about: About,
  keep: (key: string, design: DesignInput) => void,
): void {
  const { do: asked, key, ...draft } = readForm(DraftForm, req.body)
  try {
    const choices = choicesOf(studio)
    if (asked !== "save") {
      show(res, studio, about, step(draft, asked, choices).draft)
      return
    }
    const design = entryOf(draft, choices)
    keep(readForm(z.object({ key: idempotencyKey }), { key }).key, design)
  } catch (error) {
    const problems = problemsOf(error)
    if (problems === null || (error instanceof Refusal && error.status === 404)) throw error
    res.status(error instanceof Refusal ? error.status : 422)
    show(res, studio, about, draft, problems)
  }
}

function show(
  res: Response,
  studio: Studio,
  about: About,
  draft: Draft,
  problems: readonly Problem[] = [],
): void {
  const typed = { ...draft } as Typed
  const state = problems.length === 0 ? null : { form: "", problems, values: flatten(typed), typed }
  res.page("designs/edit", { ...about, ...editorModel(studio, draft, problems) }, state)
}
