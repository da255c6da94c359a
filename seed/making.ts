import {
  batchProgress,
  checkMix,
  coatLayer,
  joinBatch,
  mixesOn,
  splitBatch,
} from "../server/batches/service.ts"
import type { Actor } from "../server/ledger/act.ts"
import { onHand } from "../server/ledger/on-hand.ts"
import { type Studio, settingsOf } from "../server/ledger/studio.ts"
import { keepPhoto } from "../server/receiving/service.ts"
import { offcutIn, shelveOffcut } from "../server/shelf/service.ts"
import { pictureOfCup } from "./picture.ts"

type By = (what: string) => Actor

/**
 * A batch as it is really made, up to the layer before the last coat: the room said, two cups that go ahead by
 * themselves and get one more coat of colour, a photo, all together again, resin in a warm room.
 *
 * @param passDays moves the clock on, from the day it was started
 */
export function makeInSteps(
  studio: Studio,
  by: By,
  batchId: number,
  passDays: (days: number, hour: number) => void,
): void {
  const cool = { celsiusTenths: 205, humidityPercent: 52 }
  const warm = { celsiusTenths: 260, humidityPercent: 47 }
  for (const position of [1, 2]) coatLayer(studio, by(`coat-${position}`), { batchId, position, room: cool })
  passDays(1, 10)
  const ahead = batchProgress(studio, batchId).cups.slice(-2)
  const cupIds = ahead.map((cup) => cup.id)
  const other = splitBatch(studio, by("split"), { batchId, cupIds }).answer.batchId
  coatLayer(studio, by("ahead"), { batchId: other, position: 3, room: cool })
  coatLayer(studio, by("again"), { batchId: other, position: 3, again: true, room: cool })
  const { photoId } = keepPhoto(studio, pictureOfCup())
  coatLayer(studio, by("colours"), { batchId, position: 3, room: cool, photoId })
  joinBatch(studio, by("join"), { batchId, cupIds })
  passDays(3, 9)
  coatLayer(studio, by("seal"), { batchId, position: 4, room: warm })
}

/** How the mixes of a batch were found the next day: one was tacky, and hard a day later. */
export function lookAtMixes(
  studio: Studio,
  by: By,
  batchId: number,
  passDays: (days: number, hour: number) => void,
): void {
  const look = (what: string, code: string, hardness: "hard" | "tacky", witness = "", note = "") =>
    checkMix(studio, by(`${what}-${code}`), { code, hardness, witness, note })
  passDays(5, 9)
  const [first, ...others] = mixesOn(studio, batchId)
  look("first", first!.code, "hard", "Lid of a jar, top drawer")
  for (const { code } of others) look("next", code, "tacky", "", "Cold night, the heater was off")
  passDays(6, 9)
  for (const { code } of others) look("later", code, "hard")
}

/** The first pack of sheets that holds an offcut a piece fits on: it is put by. */
export function putOffcutBy(studio: Studio, by: By): void {
  const packs = onHand(studio.file, settingsOf(studio).timeZone).filter(({ baseUnit }) => baseUnit === "mm2")
  const pack = packs.find(({ code }) => offcutIn(studio, code) !== null)
  if (pack) shelveOffcut(studio, by("offcut"), pack.code)
}
