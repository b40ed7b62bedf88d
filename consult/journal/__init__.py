"""The append-only journal: `append` writes it, `verify` reads it through, `triggers` keep everybody else out."""
