import { afterAll, expect, test } from "vitest"
import { Refusal } from "../../server/domain/refusal.ts"
import { actSlowly } from "../../server/ledger/act.ts"
import { addMaker, makers } from "../../server/supplies/service.ts"
import { demoHouse, wholeApp } from "../support/demo-studio.ts"
import { someone } from "../support/studio.ts"
import { keysIn } from "./some-rooms.ts"

const house = demoHouse()
const { studio } = house
const { here } = await wholeApp(house)
afterAll(async () => {
  await here.close()
  house.close()
})

/** Long work that makes a maker, and then waits to be told to end or to fail. */
function longWork(name: string) {
  let go: (fails: boolean) => void = () => {}
  const told = new Promise<boolean>((resolve) => {
    go = resolve
  })
  const done = actSlowly(studio, "bring in", someone(), { name }, async () => {
    addMaker(studio, { name })
    if (await told) throw new Refusal("Something in it was wrong.")
    return { summary: `Brought in ${name}`, answer: null }
  })
  return { end: () => go(false), fail: () => go(true), done }
}

const names = () => makers(studio).map(({ name }) => name)
const actions = () => studio.file.firstText<{ n: number }>("SELECT count(*) AS n FROM action")!.n

test("while a file is brought in, pages are answered and what else is written waits until it ends", async () => {
  const [key = ""] = keysIn((await here.get("/setup/makers-and-sellers").expect(200)).text)
  const work = longWork("Slow works")
  let isSaved = false
  const saving = here.post("/setup/makers", { key, name: "Quick works" }).then((answer) => {
    isSaved = true
    return answer
  })
  for (const page of ["/shelf", "/history", "/orders", "/money"]) await here.get(page).expect(200)
  expect(isSaved).toBe(false)
  expect(() => addMaker(studio, { name: "From elsewhere" })).toThrow("A file is being brought in right now")
  work.end()
  await work.done
  expect((await saving).status).toBe(303)
  expect(names()).toEqual(expect.arrayContaining(["Slow works", "Quick works"]))
  expect(names()).not.toContain("From elsewhere")
})

test("long work that fails leaves nothing, and what waited for it is done", async () => {
  const before = actions()
  const work = longWork("Broken works")
  work.fail()
  await expect(work.done).rejects.toThrow("Something in it was wrong.")
  expect(names()).not.toContain("Broken works")
  expect(actions()).toBe(before)
  expect(studio.file.busy()).toBe(null)
})
