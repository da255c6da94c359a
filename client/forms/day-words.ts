import { isDay, sayDate } from "../../server/domain/said-day.ts"

/**
 * A browser writes the day in a date field its own way, which may be read two ways: beside it stands which day it is,
 * in the words of all pages.
 */
export function sayDays(): void {
  const today = document.documentElement.dataset.today ?? ""
  const say = (field: HTMLInputElement) => {
    const words = field.closest(".date")?.querySelector("output")
    if (words) words.value = isDay(field.value) ? sayDate(field.value, today) : ""
  }
  document.addEventListener("input", ({ target }) => {
    if (target instanceof HTMLInputElement && target.type === "date") say(target)
  })
  // back from the next page, a browser fills in what was typed
  window.addEventListener("pageshow", () => {
    for (const field of document.querySelectorAll<HTMLInputElement>("input[type=date]")) say(field)
  })
}
