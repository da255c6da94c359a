/** Drawn for Lotcup on a grid of 24, strokes of 2 with round ends. */
const DRAWINGS = {
  receive: '<path d="M4 13v6h16v-6"/><path d="M12 4v10"/><path d="m8 10 4 4 4-4"/>',
  shelf:
    '<path d="M3 11h18M3 20h18"/><path d="M6 11V6h3v5M13 11V4h4v7"/><path d="M5 20v-4h4v4M13 20v-5h5v5"/>',
  batches: '<path d="M5 4h6l-1 16H6z"/><path d="M15 8h5l-.8 12h-3.4z"/><path d="M5.4 9h5.2"/>',
  orders: '<path d="M5 4h14v17l-3.5-2-3.5 2-3.5-2L5 21z"/><path d="M9 9h6M9 13h6"/>',
  more: '<circle cx="5" cy="12" r="1"/><circle cx="12" cy="12" r="1"/><circle cx="19" cy="12" r="1"/>',
  designs: '<path d="m12 3 9 5-9 5-9-5z"/><path d="m3 12 9 5 9-5"/><path d="m3 16 9 5 9-5"/>',
  setup:
    '<path d="M4 7h9M19 7h1M4 17h3M13 17h7"/><circle cx="16" cy="7" r="3"/><circle cx="10" cy="17" r="3"/>',
  trace:
    '<circle cx="5" cy="12" r="2"/><circle cx="19" cy="5" r="2"/><circle cx="19" cy="12" r="2"/><circle cx="19" cy="19" r="2"/><path d="M7 12h10M12 12V5h5M12 12v7h5"/>',
  history: '<path d="M4 12a8 8 0 1 0 3-6.2"/><path d="M4 4v4h4"/><path d="M12 8v4l3 2"/>',
  undo: '<path d="m8 5-4 4 4 4"/><path d="M4 9h10a5 5 0 0 1 0 10H9"/>',
  scan: '<path d="M4 8V4h4M16 4h4v4M20 16v4h-4M8 20H4v-4"/><path d="M8 8v8M11 8v8M16 8v8"/>',
  camera: '<path d="M3 8h4l2-3h6l2 3h4v11H3z"/><circle cx="12" cy="13" r="3.5"/>',
  warning: '<path d="M12 4 2.8 20h18.4z"/><path d="M12 10v5M12 17.8v.2"/>',
  check: '<path d="m4 13 5 5L20 6"/>',
  plus: '<path d="M12 5v14M5 12h14"/>',
  minus: '<path d="M5 12h14"/>',
  close: '<path d="m6 6 12 12M18 6 6 18"/>',
  search: '<circle cx="10.5" cy="10.5" r="6.5"/><path d="m15.5 15.5 5 5"/>',
  print: '<path d="M7 9V4h10v5"/><path d="M7 17H4V9h16v8h-3"/><path d="M7 14h10v6H7z"/>',
  open: '<path d="M8 9h8v12H8z"/><path d="M9 5l7-2"/><path d="M8 14h8"/>',
  hold: '<rect x="5" y="11" width="14" height="9" rx="1"/><path d="M8 11V8a4 4 0 0 1 8 0v3"/>',
  back: '<path d="m14 5-7 7 7 7"/>',
  next: '<path d="m10 5 7 7-7 7"/>',
  bench: '<path d="M3 9h18M5 9v11M19 9v11"/><path d="M9 9V4h5v5"/>',
  bin: '<path d="M5 7h14M9 7V4h6v3M7 7l1 14h8l1-14"/>',
  edit: '<path d="M4 20v-4L16 4l4 4L8 20z"/>',
  file: '<path d="M6 3h8l4 4v14H6z"/><path d="M9 12h6M9 16h6"/>',
  money:
    '<ellipse cx="12" cy="6" rx="7" ry="3"/><path d="M5 6v12c0 1.7 3.1 3 7 3s7-1.3 7-3V6"/><path d="M5 12c0 1.7 3.1 3 7 3s7-1.3 7-3"/>',
  buy: '<path d="M3 4h3l2.5 11h10L21 8H7"/><circle cx="10" cy="19.5" r="1.5"/><circle cx="17" cy="19.5" r="1.5"/>',
  // what a supply looks like, by its kind
  "kind-resin": '<path d="M9 3h6v4l2 3v11H7V10l2-3z"/><path d="m9.8 18 2.2-6 2.2 6M10.6 16h2.8"/>',
  "kind-hardener":
    '<path d="M9 3h6v4l2 3v11H7V10l2-3z"/><path d="M10.5 12v6h2a1.5 1.5 0 0 0 0-3h-2 1.7a1.5 1.5 0 0 0 0-3z"/>',
  "kind-paint":
    '<path d="M7 10h9v11H7z"/><path d="M9 10V7h5v3M11.5 7V5"/><path d="M17 4h.1M20 3h.1M20 6h.1"/>',
  "kind-glitter":
    '<path d="M6 9h12v12H6z"/><path d="M7 5h10v4H7z"/><path d="m12 11.5 1 2.5 2.5 1-2.5 1-1 2.5-1-2.5-2.5-1 2.5-1z"/>',
  "kind-pigment": '<path d="M12 3c4 5 6 8 6 11a6 6 0 0 1-12 0c0-3 2-6 6-11z"/>',
  "kind-vinyl": '<circle cx="8" cy="9" r="5"/><circle cx="8" cy="9" r="1"/><path d="M8 14h13V4H8"/>',
  "kind-solvent": '<path d="M6 9h12v12H6z"/><path d="M10 9V4h4v5M6 14h12"/>',
  "kind-abrasive": '<path d="M4 6h16v12H4z"/><path d="M8 10h.1M12 10h.1M16 10h.1M10 14h.1M14 14h.1"/>',
  "kind-blank": '<path d="M6 4h12l-1.6 17H7.6z"/><path d="M6.4 8h11.2"/>',
  "kind-consumable":
    '<path d="M8.5 21v-5l-3-4.5 1.6-1 2 2V6a1.2 1.2 0 0 1 2.4 0v4-5.5a1.2 1.2 0 0 1 2.4 0V10 6a1.2 1.2 0 0 1 2.4 0v5-2a1.2 1.2 0 0 1 2.2 0v6l-1 6z"/>',
  "kind-packaging": '<path d="m3 8 9-4 9 4v9l-9 4-9-4z"/><path d="m3 8 9 4 9-4M12 12v9"/>',
  "kind-other": '<path d="M5 8h14v12H5z"/><path d="M5 8l2-4h10l2 4M12 4v4"/>',
} as const

export type IconName = keyof typeof DRAWINGS

/** The picture as inline SVG; words stand beside it, so it is hidden from readers. */
export function iconSvg(name: IconName): string {
  return `<svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false">${DRAWINGS[name]}</svg>`
}

export function isIconName(name: unknown): name is IconName {
  return typeof name === "string" && Object.hasOwn(DRAWINGS, name)
}
