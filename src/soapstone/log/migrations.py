"""The log's tables, as named steps from an empty file to today's. A step once out never changes."""

MIGRATIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "runs, their steps, trial bends and remnants",
        (
            (
                "CREATE TABLE runs (id TEXT PRIMARY KEY, job TEXT NOT NULL, tube TEXT NOT NULL,"
                " lot TEXT NOT NULL, started TEXT NOT NULL, plan TEXT NOT NULL, ended TEXT)"
            ),
            "CREATE UNIQUE INDEX one_open_run ON runs (job, tube) WHERE ended IS NULL",
            (
                "CREATE TABLE steps (run TEXT NOT NULL REFERENCES runs (id),"
                " number INTEGER NOT NULL, event TEXT NOT NULL, at TEXT NOT NULL,"
                " PRIMARY KEY (run, number))"
            ),
            (
                "CREATE TABLE trials (id TEXT PRIMARY KEY, die TEXT NOT NULL, tubing TEXT NOT NULL,"
                " lot TEXT NOT NULL, date TEXT NOT NULL, dial REAL NOT NULL, angle REAL NOT NULL)"
            ),
            (
                "CREATE TABLE sticks (id TEXT PRIMARY KEY, tubing TEXT NOT NULL, lot TEXT NOT NULL,"
                " date TEXT NOT NULL, length REAL NOT NULL)"
            ),
        ),
    ),
)
