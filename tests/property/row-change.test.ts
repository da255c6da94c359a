import fc from "fast-check"
import { expect, test } from "vitest"
import { Refusal } from "../../server/domain/refusal.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { addOrder, changeOrder, orderById, ordersList, setOrderState } from "../../server/orders/service.ts"
import { planningStudio } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"

type State = "draft" | "planned" | "done" | "cancelled"
interface Line {
  lineId: number | null
  quantity: number
}
interface Order {
  state: State
  note: string
  lines: Line[]
}
/** What an action made of an order: null before it was taken. */
interface Done {
  actionId: number
  orderId: number
  before: Order | null
  undone: boolean
}

const step = fc.oneof(
  fc.record({
    do: fc.constant("take" as const),
    quantities: fc.array(fc.nat(20), { minLength: 1, maxLength: 4 }),
  }),
  fc.record({
    do: fc.constant("change" as const),
    which: fc.nat(),
    // of the lines that are there: which stay, in what order, and how many cups; and new ones
    keep: fc.array(fc.tuple(fc.nat(), fc.nat(20)), { maxLength: 4 }),
    more: fc.array(fc.nat(20), { maxLength: 2 }),
    note: fc.constantFrom("", "gift", "late"),
  }),
  fc.record({
    do: fc.constant("state" as const),
    which: fc.nat(),
    state: fc.constantFrom<State>("draft", "planned", "done", "cancelled"),
  }),
  fc.record({ do: fc.constant("undo" as const), which: fc.nat() }),
)

test("any row of orders taken, changed, moved on and undone stands as a plain list of them says", () => {
  fc.assert(
    fc.property(fc.array(step, { maxLength: 25 }), (steps) => {
      const studio = testStudio()
      const { designId } = planningStudio(studio)
      const book = new Map<number, Order>()
      const done: Done[] = []
      const line = ({ lineId, quantity }: Line) => ({
        lineId,
        designId,
        quantity,
        dueOn: "2026-12-20",
        note: "",
      })
      const isNow = (orderId: number): Order => {
        const { state, note, lines } = orderById(studio, orderId)
        return { state, note, lines: lines.map(({ lineId, quantity }) => ({ lineId, quantity })) }
      }
      const pick = <T>(list: readonly T[], which: number): T | undefined =>
        list[which % Math.max(1, list.length)]
      const tried = <T>(work: () => T): T | null => {
        try {
          return work()
        } catch (error) {
          if (error instanceof Refusal) return null
          throw error
        }
      }

      for (const asked of steps) {
        if (asked.do === "take") {
          const lines = asked.quantities.map((n) => line({ lineId: null, quantity: n + 1 }))
          const { actionId, answer } = addOrder(studio, someone(), {
            buyerId: null,
            state: "draft",
            note: "",
            lines,
          })
          expect(book.has(answer.orderId) || done.some((one) => one.orderId === answer.orderId)).toBe(false)
          done.push({ actionId, orderId: answer.orderId, before: null, undone: false })
          book.set(answer.orderId, isNow(answer.orderId))
          expect(isNow(answer.orderId).lines.map((one) => one.quantity)).toEqual(
            asked.quantities.map((n) => n + 1),
          )
        } else if (asked.do === "undo") {
          const it = pick(done, asked.which)
          if (!it) continue
          const isLast =
            !it.undone && done.findLast((one) => one.orderId === it.orderId && !one.undone) === it
          const undo = tried(() => reverse(studio, someone(), it.actionId))
          expect(undo !== null).toBe(isLast)
          if (undo === null) continue
          it.undone = true
          if (it.before === null) book.delete(it.orderId)
          else book.set(it.orderId, it.before)
        } else {
          const orderId = pick([...book.keys()], asked.which)
          if (orderId === undefined) continue
          const before = book.get(orderId)!
          const answer = tried(() => {
            if (asked.do === "state") return setOrderState(studio, someone(), orderId, asked.state)
            const kept = new Map(
              asked.keep.map(([n, cups]) => [pick(before.lines, n)?.lineId ?? null, cups + 1]),
            )
            const lines = [...kept].map(([lineId, quantity]) => line({ lineId, quantity }))
            for (const n of asked.more) lines.push(line({ lineId: null, quantity: n + 1 }))
            return changeOrder(studio, someone(), orderId, { buyerId: null, note: asked.note, lines })
          })
          if (answer === null) continue
          book.set(orderId, isNow(orderId))
          const same = JSON.stringify(isNow(orderId)) === JSON.stringify(before)
          // what changed nothing stands in nobody's way
          if (!same) done.push({ actionId: answer.actionId, orderId, before, undone: false })
        }
        expect(new Map(ordersList(studio).map(({ orderId }) => [orderId, isNow(orderId)]))).toEqual(
          new Map([...book].toSorted(([a], [b]) => a - b)),
        )
      }
      studio.file.close()
    }),
    { numRuns: 60 },
  )
}, 60_000)
