/** The editor of designs: a layer that was unfolded stays so when the page comes back. */

for (const layer of document.querySelectorAll<HTMLDetailsElement>("details[data-layer]")) {
  const open = layer.querySelector<HTMLInputElement>("input[data-open]")
  if (open === null) continue
  // the browser may have put back how the page stood before
  open.value = layer.open ? "1" : ""
  layer.addEventListener("toggle", () => {
    open.value = layer.open ? "1" : ""
  })
}
