import { type RecoatWindow, recoatWindow } from "../domain/after-layer.ts"
import type { Plan, ResinSystem } from "../domain/plan.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { resinSystems } from "../supplies/service.ts"

/** Cups in work of one batch and line that have as many layers. */
interface Group {
  batch_id: number
  order_line_id: number | null
  done: number
}

/** Resins that cups in work were coated with, by the layer; of one that went on in several ways, all of them. */
const RESINS_ON = `SELECT DISTINCT c.batch_id, c.order_line_id, l.position AS done, x.resin_system_id AS system_id
  FROM cup c JOIN coat_cup cc ON cc.cup_id = c.id JOIN coat k ON k.id = cc.coat_id
    JOIN mix x ON x.coat_id = k.id JOIN layer l ON l.id = k.layer_id
  WHERE c.state = 'in work' AND ${stands("k.action_id")}`

/**
 * When the next coat may and must go on cups in work, by the resins that are really on them.
 *
 * @returns of a group of cups and their design's plan; nothing where only designs' own resins were ever taken
 */
export function recoatOn(studio: Studio): (group: Group, design: Plan) => { recoat?: RecoatWindow } {
  if (!studio.file.firstText("SELECT 1 FROM batch_resin_substitute LIMIT 1")) return () => ({})
  const systems = new Map(resinSystems(studio).map((system) => [system.id, system]))
  const resinsOn = new Map<string, ResinSystem[]>()
  for (const { system_id, ...group } of studio.file.allText<Group & { system_id: number }>(RESINS_ON))
    resinsOn.set(keyOf(group), [...(resinsOn.get(keyOf(group)) ?? []), systems.get(system_id)!])
  return (group, design) => {
    const layer = design.layers.find((one) => one.position === group.done)
    return layer ? { recoat: recoatWindow(layer, resinsOn.get(keyOf(group)) ?? []) } : {}
  }
}

function keyOf({ batch_id, order_line_id, done }: Group): string {
  return `${batch_id} ${order_line_id} ${done}`
}
