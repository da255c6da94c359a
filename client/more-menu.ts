/** The rooms under More go away with Esc, which gives the focus back to its button, and with a tap beside them. */
export function closeMoreWhenLeft(): void {
  const menu = document.querySelector<HTMLDetailsElement>(".rooms .more details")
  if (menu === null) return
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !menu.open) return
    menu.open = false
    menu.querySelector("summary")?.focus()
  })
  document.addEventListener("click", ({ target }) => {
    if (target instanceof Node && !menu.contains(target)) menu.open = false
  })
}
