"""Read files of readings, and write one to fill in."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from pydantic import ValidationError

from soapstone.bench.values import Known
from soapstone.check.inspect.adjust import SURE_95, Measured
from soapstone.check.inspect.choosing import check_plan
from soapstone.check.inspect.model import HeightRow, Readings, TapeRow
from soapstone.check.inspect.places import place_named, places
from soapstone.check.inspect.reads import Height, Protractor, Taping, What
from soapstone.check.making import Making, making_of
from soapstone.faults import Fault, model_faults, refuse_faults
from soapstone.plan.model import TubePlan
from soapstone.quantities import format_length
from soapstone.textfiles import read_toml

USUAL_TAPE = 1.0
"""mm that a tape between ends and marks of a tube may be off by: common practice."""

USUAL_HEIGHT = 2.0
"""mm that a height over the floor may be off by, the floor itself included: common practice."""

USUAL_ELSEWHERE = 2.0
"""mm that a tape may be off by where a place has to be found first: common practice."""

USUAL_PROTRACTOR = 0.5
"""Degrees that a protractor on round tube may be off by: common practice."""


@dataclass(frozen=True, slots=True)
class Taken:
    """Readings that were taken: `keys` name the rows as their file does; `left` were not taken."""

    making: Making
    measured: Measured
    keys: tuple[str, ...]
    left: int


def read_readings(path: Path | str) -> Readings:
    """Read a file of readings.

    Raises
    ------
    InputError
        One line that names the file and, key by key, all that is wrong with it.
    """
    path = Path(path)
    return readings_from(read_toml(path), path)


def readings_from(raw: Mapping[str, Any], where: Path | str = "readings") -> Readings:
    """Take readings from plain tables; `where` names them in errors."""
    known = Known(units="in" if raw.get("units") == "in" else "mm")
    try:
        return Readings.model_validate(dict(raw), context=known, by_name=False, by_alias=True)
    except ValidationError as error:
        raise refuse_faults(where, model_faults(Readings, error, raw)) from None


def taken_on(plan: TubePlan, data: Readings, where: Path | str = "readings") -> Taken:
    """Say what was read on a tube, and what it was read with.

    Raises
    ------
    InputError
        A row names a place or a bend that the tube has not.
    """
    faults: list[Fault] = []
    dials = {row.n: row.dial for row in data.bends if row.dial is not None}
    making = making_of(plan, dials)
    rows: list[tuple[str, What, float, float]] = []
    for number, tape in enumerate(data.tapes, start=1):
        taping = _taping(making, tape, f"tape[{number}]", faults)
        most = plan.stock_tape + 2 * plan.setup.od
        if tape.length is not None and tape.length > most:
            key = f"tape[{number}].length"
            faults.append(Fault(key, f"expected less than the whole stick, {most:.0f} mm"))
        if taping and tape.length is not None:
            off = tape.plus_minus or data.plus_minus or _usual(plan, taping)
            rows.append((f"tape {number}", taping, tape.length, off))
    for number, row in enumerate(data.heights, start=1):
        seen = _height(making, row, f"height[{number}]", faults)
        if seen and row.height is not None:
            off = row.plus_minus or data.plus_minus or max(USUAL_HEIGHT, plan.setup.tape.step_mm)
            rows.append((f"height {number}", seen, row.height, off))
    faults += _bend_faults(making, data)
    if faults:
        raise refuse_faults(where, faults)
    for bend in data.bends:
        if bend.angle is not None:
            off = bend.plus_minus or USUAL_PROTRACTOR
            rows.append((f"bend {bend.n}", Protractor(bend.n), bend.angle, off))
    keys, what, value, off_by = zip(*rows, strict=True) if rows else ((), (), (), ())
    measured = Measured(what, np.array(value, dtype=float), np.array(off_by, float) / SURE_95)
    left = sum(one.length is None for one in data.tapes)
    left += sum(one.height is None for one in data.heights)
    left += sum(b.angle is None and b.dial is None for b in data.bends)
    return Taken(making, measured, keys, left)


def blank(plan: TubePlan, units: str, piece: str = "", lot: str = "") -> str:
    """Give the text of a file of readings to fill in: the distances that tell the bends apart.

    `piece` and `lot` are of the tube that is to be measured, as the shop log names them.
    """
    chosen = check_plan(plan)
    making = making_of(plan)
    lines = [
        f"# Readings on the made tube {_quoted(plan.name)}. Fill in what was measured; rows left",
        "# as they are count as not measured. A tape lies outside to outside and reads the most it",
        f"# can. Places: {', '.join(place.name for place in places(making))}.",
        "format = 1",
        f'units = "{units}"',
        f"tube = {_quoted(plan.name)}",
        *(
            [f"piece = {_quoted(piece)}   # keep this line: so no bend counts twice"]
            if piece
            else []
        ),
        f"lot = {_quoted(lot)}"
        if lot
        else '# lot = "heat 7"                # the lot of tubing, for what its bends teach',
        '# tolerance = { angle = 0.5, rotation = 1, ends = 4 }      # or { iso_13920 = "B" }',
    ]
    for one in chosen.distances:
        drawn = format_length(one.length, units, plan.setup.tape)
        lines += ["", "[[tape]]", f'from = "{one.start}"', f'to = "{one.end}"']
        lines += [f"# length =   # {drawn} as drawn"]
    for height, over in chosen.heights:
        drawn = format_length(over, units, plan.setup.tape)
        lines += [
            "",
            f"# legs {height.leg} and {height.leg + 1} flat on a flat floor, pressed down",
        ]
        lines += ["[[height]]", f'place = "{height.place.name}"', f"flat = {height.leg}"]
        lines += [
            "turned = true   # turned over: seen from above and from A, that bend goes clockwise"
            if height.turned
            else "# turned = true  # where it will not lie flat: turn the tube over, and say so"
        ]
        lines += [f"# height =   # floor to the tube's underside there; {drawn} as drawn"]
    untold = {bend for what, bend in chosen.untold if what == "angle"}
    for bend in making.bends:
        ask = "; the tape tells it badly, so measure it" if bend.n in untold else ""
        lines += ["", "[[bend]]", f"n = {bend.n}"]
        lines += [f"# angle =    # by protractor; {bend.angle:.1f} as drawn{ask}"]
        lines += [f"# dial =     # where it was stopped; planned {bend.dial_stop:g}"]
    return "\n".join(lines) + "\n"


def _quoted(name: str) -> str:
    import tomlkit

    return tomlkit.item(name).as_string()


def _usual(plan: TubePlan, taping: Taping) -> float:
    sharp = taping.how == "outside" and all(
        place.kind in ("end", "mark") for place in (taping.start, taping.end)
    )
    return max(USUAL_TAPE if sharp else USUAL_ELSEWHERE, plan.setup.tape.step_mm)


def _taping(making: Making, row: TapeRow, key: str, faults: list[Fault]) -> Taping | None:
    found = []
    for end, name in (("from", row.start), ("to", row.end)):
        try:
            found.append(place_named(name, making))
        except ValueError as error:
            faults.append(Fault(f"{key}.{end}", str(error)))
    if len(found) < 2:
        return None
    if found[0] == found[1]:
        faults.append(Fault(f"{key}.to", f'expected another place than "{row.start}"'))
        return None
    points = [place.name for place in found if not place.is_ring]
    if "corner" in (found[0].kind, found[1].kind) and row.how != "centre":
        faults.append(Fault(f"{key}.how", 'expected "centre": corners are of the centreline'))
    elif row.how == "inside" and points:
        faults.append(Fault(f"{key}.how", f'expected "outside": there is no inside at {points[0]}'))
    return Taping(found[0], found[1], row.how)


def _height(making: Making, row: HeightRow, key: str, faults: list[Fault]) -> Height | None:
    """Read a height's place, and the bend that lies flat."""
    before = len(faults)
    if row.flat > making.count:
        faults.append(Fault(f"{key}.flat", f"expected a bend from 1 to {making.count}"))
    try:
        place = place_named(row.place, making)
    except ValueError as error:
        faults.append(Fault(f"{key}.place", str(error)))
        return None
    if not place.is_ring:
        what = f'expected an end, a mark or a leg: there is no underside at "{place.name}"'
        faults.append(Fault(f"{key}.place", what))
    most = making.plan.stock_tape
    if row.height is not None and abs(row.height) > most:
        faults.append(Fault(f"{key}.height", f"expected less than the whole stick, {most:.0f} mm"))
    return None if len(faults) > before else Height(place, row.flat, row.turned)


def _bend_faults(making: Making, data: Readings) -> Iterator[Fault]:
    seen: set[int] = set()
    for number, row in enumerate(data.bends, start=1):
        if row.n > making.count:
            yield Fault(f"bend[{number}].n", f"expected a bend from 1 to {making.count}")
        if row.n in seen:
            yield Fault(f"bend[{number}].n", f"expected each bend once, {row.n} stands twice")
        seen.add(row.n)
        known = making.plan.setup.calibration
        if row.dial is None or row.angle is None:
            continue
        if not known.can_have_given(row.dial, row.angle):
            what = f"held so far it cannot have kept {row.angle:g}°; read both again"
            yield Fault(f"bend[{number}].dial", what)
