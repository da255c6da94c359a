import type { Chance } from "../../support/chance.ts"
import type { Room, Scene } from "./scene.ts"

/** One column of the table: a way in which pictures are hard, each time a little differently. */
export interface Condition {
  name: string
  scene: (random: Chance, room: Room) => Scene
}

export const CONDITIONS: readonly Condition[] = [
  {
    name: "plain",
    scene: (random, room) => ({ modulePx: px(room, between(random, 1.7, 3)), ...crooked(random, 6) }),
  },
  {
    name: "far",
    scene: (random, room) => ({ modulePx: px(room, between(random, 0.95, 1.4)), ...crooked(random, 6) }),
  },
  {
    name: "turned",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.5, 2.2)) * 0.85,
      turnDegrees: between(random, -180, 180),
    }),
  },
  {
    name: "tilted",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.4, 2)) * 0.9,
      ...crooked(random, 15),
      tilt: { across: between(random, -0.3, 0.3), down: between(random, -0.4, 0.4) },
    }),
  },
  {
    name: "on a can",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.5, 2.2)),
      ...crooked(random, 8),
      // the ends of the label are turned away by some fifty degrees
      canRadius: room.wide * between(random, 0.52, 0.7),
    }),
  },
  {
    name: "out of focus",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.7, 3)),
      ...crooked(random, 8),
      defocus: between(random, 0.7, 1.3),
    }),
  },
  {
    name: "moved",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.7, 3)),
      ...crooked(random, 8),
      motion: { modules: between(random, 1, 2.2), degrees: between(random, 0, 180) },
    }),
  },
  {
    name: "dim and grainy",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.5, 2.4)),
      ...crooked(random, 8),
      ink: { black: 18, white: between(random, 45, 80) },
      noise: between(random, 6, 11),
      defocus: 0.35,
    }),
  },
  {
    name: "in part shade",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.5, 2.4)),
      ...crooked(random, 8),
      shadow: between(random, 0.12, 0.3),
      defocus: 0.4,
    }),
  },
  {
    name: "glare",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.6, 2.4)),
      ...crooked(random, 8),
      glare: between(random, 0.12, 0.3),
      defocus: 0.3,
    }),
  },
  {
    name: "squeezed file",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.2, 1.8)),
      ...crooked(random, 8),
      defocus: 0.4,
      jpeg: 12 + random.below(14),
    }),
  },
  {
    name: "all at once",
    scene: (random, room) => ({
      modulePx: px(room, between(random, 1.3, 2.2)) * 0.95,
      turnDegrees: between(random, -25, 25),
      tilt: { across: between(random, -0.15, 0.15), down: between(random, -0.15, 0.15) },
      defocus: between(random, 0.4, 0.85),
      motion: { modules: between(random, 0.2, 0.8), degrees: between(random, 0, 180) },
      ink: { black: 45, white: between(random, 110, 180) },
      shadow: between(random, 0.4, 0.8),
      noise: between(random, 3, 6),
      jpeg: 40 + random.below(30),
    }),
  },
]

/** Flat codes have fewer and bigger modules for the same label. */
function px(room: Room, linear: number): number {
  return Math.min(room.flat ? linear * 2 : linear, room.mostPx)
}

function crooked(random: Chance, most: number): { turnDegrees: number } {
  return { turnDegrees: between(random, -most, most) }
}

function between(random: Chance, from: number, to: number): number {
  return from + random.even() * (to - from)
}
