import { Readable } from "node:stream"
import { pipeline } from "node:stream/promises"
import { setTimeout } from "node:timers/promises"
import { stringify } from "csv-stringify/sync"
import express, { type Request, type Router } from "express"
import { z } from "zod"
import { sayDate } from "../domain/dates.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { idempotencyKey, oneOf } from "../web/fields.ts"
import { codeParam, formPage, readQuery } from "../web/forms.ts"
import { receiveUpload } from "../web/upload.ts"
import { Desk, type Draft } from "./desk.ts"
import { BRING_IN, kindNamed } from "./kinds.ts"

const JustKey = z.object({ key: idempotencyKey })
const HowSent = z.object({ decimals: oneOf(["either", "point", "comma"], "Decimals").default("either") })

/** 200,000 rows of 300 bytes. */
const LARGEST_FILE = 64 * 1024 ** 2
/** A short file is looked over before its page is shown. */
const WORTH_WAITING_MS = 1_500
const PROBLEMS_SHOWN = 50

/** At the computer: what stands in a table elsewhere is brought into the book. */
export function bringingInRoutes(studio: Studio): Router {
  const router = express.Router()
  const desk = new Desk(studio)
  router.get("/setup/bring-in", (_req, res) => {
    res.page("bringing-in/choose", choosePage())
  })
  router.get("/setup/bring-in/:kind/template.csv", (req, res) => {
    const { name, columns } = kindNamed(codeParam(req, "kind"))
    const rows = [columns.map(({ head }) => head), columns.map(({ example }) => example)]
    // with a mark of UTF-8, by which spreadsheets know it
    const csv = `\u{feff}${stringify(rows, { record_delimiter: "windows" })}`
    res.attachment(`${name}.csv`).type("text/csv").send(csv)
  })
  // sent by the page's own code, as it is
  router.post("/setup/bring-in/:kind/upload", async (req, res) => {
    const kind = kindNamed(codeParam(req, "kind"))
    const { decimals } = readQuery(HowSent, req)
    const path = await receiveUpload(req, {
      bytes: LARGEST_FILE,
      tooLarge: "That file is larger than 64 MB. Bring it in in parts.",
      otherwise: "Choose a CSV file.",
    })
    const draft = await desk.take(path, kind, decimals === "either" ? null : decimals)
    await Promise.race([desk.whenLookedOver(draft.id), setTimeout(WORTH_WAITING_MS)])
    res.json({ to: addressOf(draft) })
  })
  router.get("/setup/bring-in/files/:id/progress.json", (req, res) => {
    const { stage, rows, shape } = draftOf(desk, req)
    res.json({ stage, rows, of: Math.max(rows, shape.lines) })
  })
  router.get("/setup/bring-in/files/:id/what-is-wrong.csv", async (req, res) => {
    const draft = draftOf(desk, req)
    res.attachment(`${draft.kind.name}-what-is-wrong.csv`).type("text/csv")
    await pipeline(Readable.from(desk.whatIsWrong(draft.id)), res)
  })
  formPage(router, {
    path: "/setup/bring-in/files/:id",
    view: "bringing-in/file",
    show: (req) => filePage(studio, draftOf(desk, req)),
    form: JustKey,
    save: async ({ key }, req, res) => {
      const { id } = draftOf(desk, req)
      const done = await desk.bringIn(by(res, key), id)
      res.saved(`${done.summary}.`, { to: "/setup/bring-in", undo: done.actionId, undoTo: "/setup/bring-in" })
    },
  })
  return router
}

function draftOf(desk: Desk, req: Request): Draft {
  return desk.draft(codeParam(req, "id"))
}

function addressOf(draft: Draft): string {
  return `/setup/bring-in/files/${draft.id}`
}

function choosePage() {
  return {
    title: "Bring in from a table",
    lead: "What you have in a spreadsheet comes in as CSV: first who makes and sells it, then supplies, packs, and what is on the shelf.",
    back: { to: "/setup", label: "Set up" },
    kinds: BRING_IN.map(({ name, title, about, columns }, index) => ({
      nth: index + 1,
      name,
      title,
      about,
      template: `/setup/bring-in/${name}/template.csv`,
      columns: columns.map(({ head, needed, about: words }) => ({ head, needed, words })),
    })),
  }
}

function filePage(studio: Studio, draft: Draft) {
  const { kind, stage, counts, problems, added, changes, passedOver, broughtInOn, sentence, rows } = draft
  const total = counts.new + counts.changed + counts.same
  const isWorking = stage === "looking" || stage === "writing"
  return {
    title: `Bring in: ${kind.title.toLowerCase()}`,
    lead: leadOf(draft),
    back: { to: "/setup/bring-in", label: "Bring in from a table" },
    isWorking,
    isWriting: stage === "writing",
    isDone: stage === "done",
    rows,
    of: Math.max(rows, draft.shape.lines, 1),
    progress: `${addressOf(draft)}/progress.json`,
    sentence,
    counts: total === 0 ? null : counts,
    many: kind.many,
    sendAgain: `/setup/bring-in#${kind.name}`,
    added,
    moreAdded: counts.new - added.length,
    changes,
    moreChanges: Math.max(0, counts.changed - changes.length),
    problems: [...problems].slice(0, PROBLEMS_SHOWN).map(([row, words]) => ({ row, words })),
    moreProblems: Math.max(0, problems.size - PROBLEMS_SHOWN),
    wrongCsv: `${addressOf(draft)}/what-is-wrong.csv`,
    passedOver: passedOver
      .slice(0, 10)
      .map((head) => head.slice(0, 40))
      .join(", "),
    before: broughtInOn === null ? "" : sayDate(broughtInOn, todayOf(studio)),
    addsAgain: kind.name === "opening-stock",
    canBringIn: stage === "looked over" && problems.size === 0 && counts.new + counts.changed > 0,
    button: `Bring in ${(counts.new + counts.changed).toLocaleString("en-US")} ${counts.new + counts.changed === 1 ? kind.one : kind.many}`,
  }
}

function leadOf({ stage, kind, counts, problems, sentence }: Draft): string {
  const all = counts.new + counts.changed + counts.same
  const say = (n: number) => `${n.toLocaleString("en-US")} ${n === 1 ? kind.one : kind.many}`
  if (stage === "looking") return "The file is being looked over. Nothing is in the book yet."
  if (stage === "writing") return "The file is being brought in."
  if (stage === "done") return "The file was brought in."
  if (sentence !== null) return sentence
  if (problems.size > 0) {
    return `${problems.size === 1 ? "1 row cannot" : `${problems.size.toLocaleString("en-US")} rows cannot`} be brought in. All of the file comes in, or nothing: mend what is wrong and send it again.`
  }
  if (counts.new + counts.changed === 0)
    return `Nothing to do: all of it (${say(all)}) is in the book already.`
  return `All of the file can be brought in. Nothing is in the book yet.`
}
