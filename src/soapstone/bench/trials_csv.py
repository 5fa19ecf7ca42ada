"""Trial bends from a table: a row for each bend, its columns dial and angle, in degrees."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from soapstone.bench.calibrate import ANGLES, DIALS
from soapstone.errors import InputError
from soapstone.faults import Fault, near, refuse_faults
from soapstone.geometry.vectors import Array
from soapstone.textfiles import Row, Table, read_table, refuse_file

COLUMNS = ("dial", "angle")


@dataclass(frozen=True, slots=True)
class Trials:
    """Trial bends: dial reading, angle measured after release, lot of tubing, row in the file.

    Each has one entry a bend; `rows` is empty where they stand in no table of their own. `source`
    names where they come from; a lot is empty where none is given. `pieces` names those that a shop
    log holds, and is empty for the bench's own.
    """

    dials: tuple[float, ...]
    angles: tuple[float, ...]
    lots: tuple[str, ...]
    rows: tuple[int, ...]
    source: str = ""
    pieces: tuple[str, ...] = ()

    def __len__(self) -> int:
        """How many bends."""
        return len(self.dials)

    @property
    def arrays(self) -> tuple[Array, Array]:
        """Dials and angles as arrays, (trials,)."""
        return np.array(self.dials, dtype=float), np.array(self.angles, dtype=float)

    def of_lots(self, lots: Sequence[str]) -> "Trials":
        """Keep the bends of some lots."""
        kept = [index for index, own in enumerate(self.lots) if own in lots]
        return replace(
            self,
            dials=tuple(self.dials[index] for index in kept),
            angles=tuple(self.angles[index] for index in kept),
            lots=tuple(self.lots[index] for index in kept),
            rows=tuple(self.rows[index] for index in kept) if self.rows else (),
            pieces=tuple(self.pieces[index] for index in kept) if self.pieces else (),
        )


def read_trials(path: Path | str) -> Trials:
    """Read trial bends from a CSV file with the columns dial and angle, and lot where there is one.

    Columns may stand in any order and others are passed over; so are blank rows and rows that
    start with "#". A degree sign does no harm. With semicolons, 31,5 is a decimal comma.

    Raises
    ------
    InputError
        With everything that is wrong in the file, row by row, on one line.
    """
    path = Path(path)
    table = read_table(path)
    missing = [name for name in COLUMNS if name not in table.columns]
    if missing:
        hint = near(missing[0], table.columns)
        listed = " and ".join(missing)
        raise refuse_file(
            path, f"expected a first row naming the columns dial,angle; no {listed}{hint}"
        )
    faults: list[Fault] = []
    values = [[_degrees(table, row, name, faults) for name in COLUMNS] for row in table.rows]
    if faults:
        raise refuse_faults(path, faults)
    return Trials(
        tuple(dial for dial, _ in values),
        tuple(angle for _, angle in values),
        tuple(row.cells.get("lot", "") for row in table.rows),
        tuple(row.line for row in table.rows),
        path.name,
    )


def _degrees(table: Table, row: Row, name: str, faults: list[Fault]) -> float:
    """Read one cell; what is wrong with it is added to `faults`."""
    text = row.cells.get(name, "").removesuffix("°").removesuffix("deg").strip()
    plain = text.replace(",", ".") if table.decimal_comma else text
    wanted = "degrees between 0 and 360" if name == "angle" else "degrees from -180 to 540"
    try:
        value = table.number(Row(row.line, {name: plain}), name)
    except InputError:
        value = None
    low, high = ANGLES if name == "angle" else DIALS
    sound = value is not None and low <= value <= high and not (name == "angle" and value in ANGLES)
    if value is not None and sound:
        return value
    found = f"found {plain[:20]!r}" if plain else "the cell is empty"
    faults.append(Fault(f"row {row.line}, {name}", f"expected {wanted}, {found}"))
    return 0.0
