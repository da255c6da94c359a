/** The list as text goes onto the clipboard with one tap, where the browser lets a page do that. */

for (const button of document.querySelectorAll<HTMLButtonElement>("[data-copy]")) {
  const text = document.getElementById(button.dataset.copy ?? "")?.textContent ?? ""
  const words = button.querySelector("span")
  // without it, the text is marked with one tap and copied as any other
  if (!navigator.clipboard || !words) continue
  button.hidden = false
  button.addEventListener("click", () => {
    void navigator.clipboard.writeText(text).then(
      () => {
        words.textContent = "Copied"
      },
      () => {
        words.textContent = "Mark the text and copy it"
      },
    )
  })
}
