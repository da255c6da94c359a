import { substituteAmount } from "../domain/substitutes.ts"
import type { AnswerBuy, AnswerShortfall } from "./service.ts"
import { breakWords } from "./words.ts"

/**
 * Rows of the table; a kit that is bought for several supplies has its price in the first of them only.
 *
 * @param currency of the studio, by its three-letter ISO 4217 code
 * @param question as `questionOf` has it: a supply's own page then answers it too
 */
export function shortRows(shortfalls: readonly AnswerShortfall[], currency: string, question = "") {
  const priced = new Map<AnswerBuy, string>()
  return shortfalls.map((short) => {
    const buys = short.buys.map((buy) => {
      const withThat = priced.get(buy) ?? null
      if (withThat === null) priced.set(buy, short.supply)
      return { ...buy, withThat, breakSays: withThat === null ? breakWords(buy, currency) : [] }
    })
    const [first] = buys
    return {
      ...short,
      to: `/forecast/supplies/${short.supplyId}${question}`,
      buys,
      substitutes: short.substitutes.map((one) => ({
        ...one,
        needed: substituteAmount(short.missing, one.ratioPpm),
        isEnough: one.free >= substituteAmount(short.missing, one.ratioPpm),
      })),
      sooner: buys.flatMap((buy) => buy.sooner ?? []),
      orderBy: first?.orderBy ?? null,
      late: first?.late === true,
      hereOn:
        buys
          .map((buy) => buy.hereOn)
          .sort()
          .at(-1) ?? null,
    }
  })
}
