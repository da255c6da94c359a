import { availableParallelism } from "node:os"
import { defineConfig } from "vitest/config"

export default defineConfig({
  test: {
    root: new URL("..", import.meta.url).pathname,
    testTimeout: 60_000,
    hookTimeout: 120_000,
    reporters: ["default"],
    // much of a browser's test is waiting: two at once also where there are two cores
    maxWorkers: Math.max(2, availableParallelism() - 1),
    projects: [
      {
        extends: true,
        test: { name: "pages", include: ["tests/{browser,http,property}/**/*.test.ts"] },
      },
      {
        extends: true,
        // they share nothing but code: loading it once for all of them saves minutes
        test: { name: "rules", include: ["tests/{unit,reference}/**/*.test.ts"], isolate: false },
      },
    ],
  },
})
