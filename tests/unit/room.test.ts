import fc from "fast-check"
import { describe, expect, test } from "vitest"
import {
  readHumidity,
  readTemperature,
  roomRemarks,
  sayRoom,
  temperatureFigure,
} from "../../server/domain/room.ts"

const metric = (text: string) => readTemperature(text, "metric")
const us = (text: string) => readTemperature(text, "us")

describe("a room's temperature", () => {
  test("is read in the studio's degrees, or in those it is written with", () => {
    expect(metric("22")).toEqual({ ok: true, value: 220 })
    expect(metric(" 22,5 °C ")).toEqual({ ok: true, value: 225 })
    expect(metric("72 F")).toEqual({ ok: true, value: 222 })
    expect(us("20c")).toEqual({ ok: true, value: 200 })
    expect(metric("")).toEqual({ ok: true, value: null })
  })

  test("68 °F is 20 °C, 86 °F is 30 °C", () => {
    // NIST Special Publication 811 (2008), appendix B.9: t/°C = (t/°F − 32)/1.8, exactly
    expect([us("68"), us("86")]).toEqual([
      { ok: true, value: 200 },
      { ok: true, value: 300 },
    ])
  })

  test("that no cup is coated in gets a sentence in the degrees it was typed in", () => {
    for (const text of ["4", "41", "200", "-3"]) expect(metric(text).ok, text).toBe(false)
    expect(metric("220")).toMatchObject({ message: expect.stringContaining("between 5 and 40 °C") })
    expect(us("110")).toMatchObject({ message: expect.stringContaining("between 41 and 104 °F") })
    expect(metric("warm")).toMatchObject({ message: expect.stringContaining("is not a number") })
    expect(metric("5")).toEqual({ ok: true, value: 50 })
    expect(metric("40")).toEqual({ ok: true, value: 400 })
  })

  test("as it is shown reads back as the same, in both kinds of degrees, for whole and half ones", () => {
    fc.assert(
      fc.property(fc.integer({ min: 10, max: 80 }), (halves) => {
        const read = metric(String(halves / 2))
        if (read.ok && read.value !== null)
          expect(temperatureFigure(read.value, "metric")).toBe(String(halves / 2))
        const fahrenheit = String(halves / 2 + 35)
        const again = us(fahrenheit)
        if (again.ok && again.value !== null) expect(temperatureFigure(again.value, "us")).toBe(fahrenheit)
      }),
    )
  })
})

test("humidity is whole percent from 1 to 100", () => {
  expect(readHumidity("45 %")).toEqual({ ok: true, value: 45 })
  expect(readHumidity("")).toEqual({ ok: true, value: null })
  for (const text of ["0", "101", "wet", "-5"]) expect(readHumidity(text).ok, text).toBe(false)
})

test("a room is said as far as it is known", () => {
  expect(sayRoom({ celsiusTenths: 222, humidityPercent: 40 }, "metric")).toBe("22.2 °C, 40 % humidity")
  expect(sayRoom({ celsiusTenths: 222, humidityPercent: null }, "us")).toBe("72 °F")
  expect(sayRoom({ celsiusTenths: null, humidityPercent: null }, "us")).toBeNull()
})

test("a cool or damp room is remarked on where resin is put on, and nowhere else", () => {
  // common practice, no source: only that the code keeps its own limits
  const cool = { celsiusTenths: 170, humidityPercent: 85 }
  expect(roomRemarks(cool, "resin")).toHaveLength(2)
  expect(roomRemarks(cool, "spray")).toEqual([])
  expect(roomRemarks({ celsiusTenths: 210, humidityPercent: 50 }, "final-coat")).toEqual([])
})
