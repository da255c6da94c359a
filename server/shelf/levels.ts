/** How full a look at the bottle says it is. */
export const LEVELS = [
  { value: "full", label: "Full", share: 1 },
  { value: "3/4", label: "¾", share: 0.75 },
  { value: "1/2", label: "½", share: 0.5 },
  { value: "1/4", label: "¼", share: 0.25 },
  { value: "empty", label: "Empty", share: 0 },
] as const
