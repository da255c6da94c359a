import { describe, expect, test } from "vitest"
import { cameFrom } from "../../server/domain/came-from.ts"

const giver = (booked: number, said: number | null = null) => ({ booked, said })

describe("which containers gave a coat its 100", () => {
  test.each([
    ["nothing said: as it was, all of the one by the book", [giver(100), giver(0)], [100, 0]],
    ["one of two is said: the other gave the rest", [giver(100), giver(0, 40)], [60, 40]],
    ["the first is said: so did the second", [giver(100, 30), giver(0)], [30, 70]],
    ["both are said", [giver(100, 55), giver(0, 45)], [55, 45]],
    ["all from the other", [giver(100), giver(0, 100)], [0, 100]],
    ["nothing from the first", [giver(100, 0), giver(0)], [0, 100]],
    ["of three the rest is the one's by the book", [giver(100), giver(0, 40), giver(0)], [60, 40, 0]],
  ])("%s", (_, givers, shares) => expect(cameFrom(100, givers)).toEqual(shares))

  test("more than was taken, and a rest that nobody is said to have given, are told", () => {
    expect(cameFrom(100, [giver(100), giver(0, 101)])).toBe("too much")
    expect(cameFrom(100, [giver(100, 50), giver(0, 40)])).toBe("left open")
    expect(cameFrom(100, [giver(100, 50), giver(0), giver(0)])).toBe("left open")
  })
})
