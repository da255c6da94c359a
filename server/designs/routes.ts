import express, { type Router } from "express"
import { filmUm } from "../domain/films.ts"
import { cautionsFor, isHazard } from "../domain/hazards.ts"
import { isResin, layerNeed } from "../domain/layers.ts"
import type { Layer, Plan } from "../domain/plan.ts"
import { planProblems } from "../domain/plan-problems.ts"
import { planTimes } from "../domain/plan-times.ts"
import { coatedAreaMm2 } from "../domain/profile.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { suppliesList } from "../supplies/service.ts"
import { idParam } from "../web/forms.ts"
import { unitCosts } from "./costs.ts"
import { designs, planOf } from "./service.ts"

/** Designs as they stand: what each layer takes for one cup, and why. */
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
  router.get("/designs/:id", (req, res) => {
    const design = designs(studio).find((one) => one.designId === idParam(req))
    if (!design) throw new Refusal("There is no such design.", { status: 404 })
    const plan = planOf(studio, design.versionId)
    res.page("designs/design", { ...perCup(studio, plan), back: { to: "/designs", label: "Designs" } })
  })
  return router
}

function perCup(studio: Studio, plan: Plan) {
  const { volumeStepUl, massStepMg, labourMicroPerHour } = settingsOf(studio)
  const measures = { volumeStepUl, massStepMg }
  const costs = unitCosts(studio.file)
  const supplies = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
  const times = planTimes(plan)
  const area = coatedAreaMm2(plan.blank)
  const layers = plan.layers.map((layer) => {
    const draws = layerNeed(plan, layer, 1, measures).draws.map((draw) => {
      const supply = supplies.get(draw.supplyId)!
      const unitCost = costs.get(draw.supplyId)
      return {
        supply: supply.name,
        baseUnit: supply.baseUnit,
        amount: draw.amount,
        costMicro: unitCost === undefined ? null : Math.round(unitCost * draw.amount),
        working: draw.working,
        hazards: supply.hazards.filter(isHazard),
      }
    })
    return {
      position: layer.position,
      name: layer.name,
      handsOnMin: layer.handsOnMin,
      turnerMin: layer.turnerMin,
      recoatEarliestMin: layer.recoatEarliestMin,
      films: filmsOf(layer, area),
      draws,
      cautions: cautionsFor(
        draws.flatMap((draw) => draw.hazards),
        { layerKind: layer.kind },
      ),
    }
  })
  const all = layers.flatMap((layer) => layer.draws)
  return {
    title: plan.designName,
    lead: `Version ${plan.versionNumber} on ${plan.blank.supply.name}, one cup.`,
    layers,
    problems: planProblems(plan, measures).map((problem) => problem.sentence),
    materialsMicro: all.reduce((sum, draw) => sum + (draw.costMicro ?? 0), 0),
    unpriced: [...new Set(all.filter((draw) => draw.costMicro === null).map((draw) => draw.supply))].join(
      ", ",
    ),
    labourMicro: Math.round((labourMicroPerHour * times.handsOnMin) / 60),
    handsOnMin: times.handsOnMin,
    turnerHours: Math.round(times.turnerMin / 6) / 10,
    readyDays: Math.ceil(times.totalMin / 1440),
  }
}

/** Film on the cup of each resin of a layer, µm, after what drips and what stays in the mixing cup. */
function filmsOf(layer: Layer, areaMm2: number): { system: string; um: number }[] {
  return layer.uses
    .filter(isResin)
    .map((use) => ({ system: use.system.name, um: Math.round(filmUm(use, areaMm2)) }))
}
