"""The shop log: runs, trial bends and remnants, kept in one SQLite file."""
