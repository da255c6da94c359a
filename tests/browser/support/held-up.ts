import bwip from "bwip-js/node"
import type { BrowserContext, Page } from "playwright-core"
import sharp from "sharp"

const WIDTH = 1280
const HEIGHT = 720

/**
 * Gives a browser a camera that sees what the test holds up: `holdUp` changes the picture at once, where a film goes
 * on by itself. Everything behind getUserMedia is the page's own.
 */
export async function giveCamera(context: BrowserContext): Promise<void> {
  await context.addInitScript(
    ({ width, height }) => {
      const canvas = document.createElement("canvas")
      canvas.width = width
      canvas.height = height
      const paper = canvas.getContext("2d")!
      let picture: CanvasImageSource | null = null
      const draw = () => {
        paper.fillStyle = "#b8b2a6"
        paper.fillRect(0, 0, width, height)
        if (picture !== null) paper.drawImage(picture, 0, 0)
      }
      draw()
      // a camera goes on however still the scene is
      setInterval(draw, 66)
      navigator.mediaDevices.getUserMedia = async () => canvas.captureStream(15)
      Object.assign(window, {
        holdUp: async (address: string | null) => {
          if (address === null) picture = null
          else {
            const image = new Image()
            image.src = address
            await image.decode()
            picture = image
          }
          draw()
        },
      })
    },
    { width: WIDTH, height: HEIGHT },
  )
}

/** Holds a label up to the camera, or nothing. */
export async function holdUp(page: Page, label: Buffer | null): Promise<void> {
  const address = label === null ? null : `data:image/png;base64,${label.toString("base64")}`
  await page.evaluate(
    (shown) => (window as unknown as { holdUp(address: string | null): Promise<void> }).holdUp(shown),
    address,
  )
}

/** A label with a barcode as it lies on the bench before the camera. */
export async function labelWith(bcid: string, text: string): Promise<Buffer> {
  const flat = /qrcode|datamatrix/.test(bcid)
  const code = await bwip.toBuffer({
    bcid,
    text,
    scale: 4,
    ...(flat ? {} : { height: 20 }),
    padding: 14,
    backgroundcolor: "FFFFFF",
  })
  const label = await sharp(code)
    .resize({
      width: Math.round(WIDTH * 0.66),
      height: Math.round(HEIGHT * 0.66),
      fit: "inside",
      kernel: "lanczos3",
    })
    .toBuffer()
  return sharp({ create: { width: WIDTH, height: HEIGHT, channels: 3, background: "#b8b2a6" } })
    .composite([{ input: label, gravity: "centre" }])
    .blur(0.6)
    .png()
    .toBuffer()
}
