import { keepDraft } from "./forms/draft.ts"

/** The editor of designs: what is typed is kept in this tab; a layer that was unfolded stays so when the page comes back. */

rememberFolds()
void keepDraft(
  () => document.querySelector<HTMLFormElement>("form[data-kept-draft]"),
  { stay: ["do", "stay"], fills: { query: "blank", field: "blankSupplyId" } },
  rememberFolds,
)

function rememberFolds(): void {
  for (const layer of document.querySelectorAll<HTMLDetailsElement>("details[data-layer]")) {
    const open = layer.querySelector<HTMLInputElement>("input[data-open]")
    if (open === null) continue
    // the browser may have put back how the page stood before
    open.value = layer.open ? "1" : ""
    layer.addEventListener("toggle", () => {
      open.value = layer.open ? "1" : ""
    })
  }
}
