import { createRequire } from "node:module"
import type bwip from "bwip-js"

const require = createRequire(import.meta.url)

/**
 * A QR code as an SVG picture, with the white border that readers need.
 *
 * The library draws every kind of code and is two megabytes of program, so it is loaded when the first one is drawn.
 *
 * @param scale how large one module is drawn; a page may size the picture itself
 */
export function qrSvg(text: string, { border, scale }: { border: number; scale: number }): string {
  const { toSVG } = require("bwip-js") as typeof bwip
  const paper = { paddingwidth: border, paddingheight: border, backgroundcolor: "FFFFFF" }
  return toSVG({ bcid: "qrcode", text, scale, ...paper })
}
