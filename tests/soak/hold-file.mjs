// Another program that writes into the same file: it takes it for itself again and again, once for a long time.
// node hold-file.mjs FILE LONGEST_MS
import { setTimeout as wait } from "node:timers/promises"
import Database from "better-sqlite3"

const [, , path, longest] = process.argv
const db = new Database(path, { timeout: 60_000 })
process.once("SIGTERM", () => process.exit(0))
for (let times = 0; ; times++) {
  db.exec("BEGIN IMMEDIATE")
  await wait(times === 3 ? Number(longest) : 100)
  db.exec("ROLLBACK")
  await wait(150)
}
