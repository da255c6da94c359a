import { crowding } from "./crowd.ts"
import { fillingDisk } from "./full.ts"
import { killingImport } from "./import.ts"
import { killing } from "./kill.ts"

/** Each part prints one line, and what went wrong below it. */
const PARTS: Record<string, (seed: number) => Promise<{ line: string; wrong: readonly string[] }>> = {
  kill: async (seed) => {
    const { kills, done, refused, cutOff, replayed, wrong } = await killing(200, seed)
    const actions = [...done.values()].reduce((sum, count) => sum + count, 0)
    const kinds = [...done].map(([kind, count]) => `${kind} ${count}`).join(", ")
    return {
      line: `killed ${kills} times: ${actions} actions acknowledged (${kinds}), ${refused} refused, ${replayed} sent again after a start; cut off ${cutOff.done} done and ${cutOff.notDone} not done`,
      wrong,
    }
  },
  import: async (seed) => {
    const { kills, rows, cutOff, whole, wrong } = await killingImport(20, 5_000, seed)
    return {
      line: `killed ${kills} times while ${rows} rows were brought in: ${cutOff} left none of them, ${whole} all`,
      wrong,
    }
  },
  crowd: async (seed) => {
    const { taken, refused, emptied, wrong } = await crowding(60, 100, seed)
    const why = [...refused].map(([sentence, count]) => `${count} × ${sentence}`).join("; ")
    return {
      line: `eight at once for a minute: ${taken} taken, ${emptied} bottles emptied; refused: ${why}`,
      wrong,
    }
  },
  full: async (seed) => {
    const full = await fillingDisk(seed)
    if (full === null) return { line: "full disk: not tried, no small disk can be made here", wrong: [] }
    const { done, refused, sentences, wrong } = full
    return { line: `full disk: ${done} done, ${refused} refused: "${sentences[0]}"`, wrong }
  },
}

// `npm run soak -- [kill|import|crowd|full ...] [--seed N]`: status 1 when anything went wrong
const args = process.argv.slice(2)
const at = args.indexOf("--seed")
const seed = at === -1 ? 20_261_128 : Number(args.splice(at, 2)[1])
for (const name of args.length > 0 ? args : Object.keys(PARTS)) {
  const part = PARTS[name]
  if (!part) throw new Error(`There is no part "${name}": ${Object.keys(PARTS).join(", ")}.`)
  const began = Date.now()
  const { line, wrong } = await part(seed)
  console.log(`${name} (seed ${seed}, ${Math.round((Date.now() - began) / 1000)} s)  ${line}`)
  for (const one of wrong.slice(0, 20)) console.log(`  WRONG: ${one}`)
  if (wrong.length > 0) process.exitCode = 1
}
