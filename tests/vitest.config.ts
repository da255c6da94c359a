import { availableParallelism } from "node:os"
import { defineConfig } from "vitest/config"
import { BaseSequencer, type TestSpecification } from "vitest/node"

/** Those that take minutes are begun first, so that none of them is left for the end with the other cores idle. */
const LONG = ["every-page", "every-route", "soak"]

class LongFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const place = ({ moduleId }: TestSpecification) => {
      const at = LONG.findIndex((name) => moduleId.endsWith(`/${name}.test.ts`))
      return at === -1 ? LONG.length : at
    }
    return (await super.sort(files)).toSorted((a, b) => place(a) - place(b))
  }
}

export default defineConfig({
  test: {
    root: new URL("..", import.meta.url).pathname,
    include: ["tests/{unit,reference,property,http,browser}/**/*.test.ts"],
    testTimeout: 60_000,
    hookTimeout: 120_000,
    reporters: ["default"],
    // much of a browser's test is waiting: two at once also where there are two cores
    maxWorkers: Math.max(2, availableParallelism() - 1),
    // they share nothing but code: loading it once for all of them saves minutes
    isolate: false,
    sequence: { sequencer: LongFirst },
  },
})
