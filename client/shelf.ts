import { listenForLabelPhotos } from "./intake/label-photo.ts"

/** A container's or a lot's page: what only works with a script is shown. */
for (const shown of document.querySelectorAll<HTMLElement>("[data-needs-script]")) shown.hidden = false
listenForLabelPhotos()
