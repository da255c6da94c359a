/** The import table of DEVELOPERS.md, kept true. */
const only = (name, from, allowed) => ({
  name,
  severity: "error",
  from: { path: from },
  to: { path: "^(server|client|db|seed|tests)/", pathNot: allowed },
})

module.exports = {
  forbidden: [
    // a cycle of types alone is gone when the program runs
    {
      name: "no-circular",
      severity: "error",
      from: {},
      to: { circular: true, viaOnly: { dependencyTypesNot: ["type-only"] } },
    },
    only("domain-is-pure", "^server/domain/", ["^server/domain/"]),
    {
      name: "domain-knows-no-io",
      severity: "error",
      from: { path: "^server/domain/" },
      to: { dependencyTypes: ["core"] },
    },
    {
      name: "domain-knows-no-packages-but-computing-ones",
      severity: "error",
      from: { path: "^server/domain/" },
      to: { path: "node_modules", pathNot: "node_modules/(temporal-polyfill|temporal-spec|zod)" },
    },
    only("db-stands-alone", "^db/", ["^db/"]),
    only("ledger-imports", "^server/ledger/", ["^server/(ledger|domain)/", "^db/"]),
    only("web-is-a-shell", "^server/web/", ["^server/(web|domain)/", "^client/"]),
    only("client-imports", "^client/", ["^client/", "^server/domain/"]),
    {
      name: "capability-only-through-its-service",
      severity: "error",
      from: { path: "^server/([^/]+)/", pathNot: "^server/(domain|ledger|web)/" },
      to: {
        path: "^server/([^/]+)/",
        pathNot: ["^server/$1/", "^server/(domain|ledger|web)/", "/service\\.ts$"],
      },
    },
    {
      name: "seed-through-services",
      severity: "error",
      from: { path: "^seed/" },
      to: {
        path: "^server/",
        pathNot: ["^server/(domain|ledger)/", "/service\\.ts$", "^server/[^/]+\\.ts$"],
      },
    },
  ],
  options: {
    doNotFollow: { path: "node_modules" },
    tsPreCompilationDeps: true,
    tsConfig: { fileName: "tsconfig.json" },
    enhancedResolveOptions: {
      exportsFields: ["exports"],
      conditionNames: ["import", "require", "node", "default"],
    },
  },
}
