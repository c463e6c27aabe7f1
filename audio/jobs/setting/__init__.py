"""Set-up before the passes: one module a step, each skippable, each leaves a record of its own."""
