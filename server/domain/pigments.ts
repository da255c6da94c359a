import { pouredPerCupUl } from "./films.ts"
import type { AmountUse, Layer, PlanSupply, ResinSystem, ResinUse } from "./plan.ts"
import { Refusal } from "./refusal.ts"

/** Pigment in a layer's mixed resin, by mass. */
export interface Pigment {
  /** the most it comes to for any number of cups; null while a density is missing */
  ppm: number | null
  /** what lacks its density */
  lacks: string | null
  /** what the resin takes; null where its data sheet does not say */
  mostPpm: number | null
}

/**
 * How much of a layer's resin is pigment, by mass of the mixed resin, at its most for any number of cups.
 *
 * With pigment c a cup and k a mix, p of resin poured over a cup and r staying in the mixing cup, a mix for n
 * cups has (n c + k) ÷ (n p + r). That only rises or only falls with n, so it is highest for one cup or for
 * very many. What is stirred in by the litre adds the same share to any mix.
 *
 * @param areaMm2 what the layer covers of one cup
 * @returns null where nothing is mixed or no pigment goes in
 */
export function pigmentIn(layer: Layer, areaMm2: number): Pigment | null {
  const resins = layer.uses.filter((use): use is ResinUse => "system" in use)
  const pigments = layer.uses.filter((use): use is AmountUse => use.how !== "piece" && isPigment(use))
  if (resins.length === 0 || pigments.length === 0) return null
  const limits = resins.map((use) => use.system.maxPigmentPpm).filter((ppm) => ppm !== null)
  const mostPpm = limits.length === 0 ? null : Math.min(...limits)

  let [pouredMg, residueMg, litreMg] = [0, 0, 0]
  for (const use of resins) {
    const density = mixDensityMgPerMl(use.system)
    if (typeof density !== "number") return { ppm: null, lacks: density.lacks.name, mostPpm }
    pouredMg += (pouredPerCupUl(use, areaMm2) * density) / 1000
    residueMg += (use.residueUl * density) / 1000
    // the lightest resin takes the least pigment a litre
    litreMg = litreMg === 0 ? density * 1000 : Math.min(litreMg, density * 1000)
  }
  let [cupMg, mixMg, byLitre] = [0, 0, 0]
  for (const use of pigments) {
    const mg = massMg(use)
    if (mg === null) return { ppm: null, lacks: use.supply.name, mostPpm }
    if (use.how === "per-resin") byLitre += mg / litreMg
    else if (use.how === "per-mix") mixMg += mg * resins.length
    else cupMg += mg
  }
  const ofOneCup = (cupMg + mixMg) / (pouredMg + residueMg)
  const ofMany = cupMg / pouredMg
  return { ppm: Math.round((byLitre + Math.max(ofOneCup, ofMany)) * 1e6), lacks: null, mostPpm }
}

/**
 * Nothing while a layer's pigment keeps to what its resin takes, or that cannot be known.
 *
 * @throws {Refusal} more than that
 */
export function checkPigment(layer: Layer, areaMm2: number): void {
  const pigment = pigmentIn(layer, areaMm2)
  if (pigment === null || pigment.ppm === null || pigment.mostPpm === null) return
  if (pigment.ppm <= pigment.mostPpm) return
  const name = layer.uses.find((use) => "system" in use)?.system.name
  throw new Refusal(
    `The pigment comes to ${percent(pigment.ppm)} of the ${name} by weight, and it takes at most ${percent(pigment.mostPpm)}: more keeps it from curing. Use less pigment.`,
  )
}

/** Mass of a mL of mixed resin; or the part whose density is not known. */
function mixDensityMgPerMl(system: ResinSystem): number | { lacks: PlanSupply } {
  const { partA, partB, ratioA, ratioB } = system
  const [a, b] = [partA.densityMgPerMl, partB.densityMgPerMl]
  if (a === null || b === null) return { lacks: a === null ? partA : partB }
  return system.ratioBasis === "volume"
    ? (ratioA * a + ratioB * b) / (ratioA + ratioB)
    : (ratioA + ratioB) / (ratioA / a + ratioB / b)
}

/** Pigment, and paint where it is stirred in rather than sprayed. */
function isPigment(use: Layer["uses"][number]): boolean {
  if ("system" in use) return false
  const { kind } = use.supply
  return kind === "pigment" || (kind === "paint" && (use.how === "per-resin" || use.how === "per-mix"))
}

/** mg for what the use's amount is for (a cup, a mix, a litre); null while the density is not known. */
function massMg({ supply, amount, sharePpm, how, inPlaceOf }: AmountUse): number | null {
  const own = ((how === "per-cup" ? (amount * sharePpm) / 1e6 : amount) * (inPlaceOf?.ratioPpm ?? 1e6)) / 1e6
  if (supply.baseUnit === "mg") return own
  if (supply.baseUnit !== "uL" || supply.densityMgPerMl === null) return null
  return (own * supply.densityMgPerMl) / 1000
}

function percent(ppm: number): string {
  return `${Number((ppm / 10_000).toPrecision(3))} %`
}
