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
    (
        "what a run learnt from, what a trial was bent of, sticks and their use, inspections",
        (
            "ALTER TABLE runs ADD COLUMN title TEXT NOT NULL DEFAULT ''",
            "ALTER TABLE runs ADD COLUMN trials TEXT NOT NULL DEFAULT '[]'",
            "ALTER TABLE trials ADD COLUMN source TEXT NOT NULL DEFAULT 'run'",
            "ALTER TABLE trials ADD COLUMN od REAL",
            "ALTER TABLE trials ADD COLUMN wall REAL",
            "ALTER TABLE trials ADD COLUMN clr REAL",
            "ALTER TABLE sticks ADD COLUMN kind TEXT NOT NULL DEFAULT 'remnant'",
            "ALTER TABLE sticks ADD COLUMN cut_from TEXT NOT NULL DEFAULT ''",
            "ALTER TABLE sticks ADD COLUMN note TEXT NOT NULL DEFAULT ''",
            (
                "CREATE TABLE uses (stick TEXT PRIMARY KEY REFERENCES sticks (id),"
                " date TEXT NOT NULL, used_for TEXT NOT NULL)"
            ),
            (
                "CREATE TABLE inspections (id TEXT PRIMARY KEY, job TEXT NOT NULL,"
                " tube TEXT NOT NULL, lot TEXT NOT NULL, date TEXT NOT NULL,"
                " readings TEXT NOT NULL, result TEXT NOT NULL)"
            ),
        ),
    ),
)
