import { availableParallelism } from "node:os"
import { defineConfig } from "vitest/config"

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
  },
})
