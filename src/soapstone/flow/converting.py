"""Tubes from one kind of file into another."""

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from soapstone.bench.model import Bench
from soapstone.errors import InputError
from soapstone.exchange.csv_files import Form, TubeShape, not_in_csv, read_tube_csv, write_tube_csv
from soapstone.exchange.dxf_out import Stick, to_dxf
from soapstone.exchange.flat_views import Side
from soapstone.exchange.job_toml import job_toml
from soapstone.exchange.mesh_out import to_glb, to_stl
from soapstone.exchange.solid_tube import SolidTube
from soapstone.exchange.step_out import to_step
from soapstone.findings import Finding
from soapstone.flow.asked import length_asked
from soapstone.flow.planning import JobPlan, plan
from soapstone.flow.remembering import bench_as_is
from soapstone.flow.taking_in import job_from_step
from soapstone.geometry.chain import SPLIT_ABOVE
from soapstone.job.files import own_bench_path, read_job
from soapstone.job.model import Job
from soapstone.job.tooling import NO_DIE
from soapstone.plan.model import TubePlan, Unplanned
from soapstone.quantities import Units
from soapstone.shape.resolve import resolve
from soapstone.sheets import palette
from soapstone.sheets.projection import FRONT, ISOMETRIC, RIGHT, TOP
from soapstone.sheets.sketch import Box, Label, Mark, moved, rectangle
from soapstone.sheets.sketch_svg import to_svg
from soapstone.sheets.stick import MARGIN, stick_box, stick_ruler
from soapstone.sheets.words import Numbers
from soapstone.textfiles import write_whole

DRAWN = (".step", ".stp", ".dxf", ".glb", ".stl", ".svg")
"""Kinds of file that hold the shapes alone, for other programs."""

READ = (".toml", ".csv", ".step", ".stp")
"""Kinds of file that tubes are read from."""

SIDES = (
    Side(FRONT.name, FRONT.right, FRONT.up),
    Side(TOP.name, TOP.right, TOP.up),
    Side(RIGHT.name, RIGHT.right, RIGHT.up),
    Side(ISOMETRIC.name, ISOMETRIC.right, ISOMETRIC.up),
)
"""The views of a DXF drawing."""


SHOWN = 180.0
"""mm of a stick drawn at true size in which its name is looked for."""


@dataclass(frozen=True, slots=True)
class Converted:
    """A file written from another, and what it could not hold."""

    file: Path
    tubes: tuple[str, ...]
    left_out: tuple[str, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether every tube of the source is in it as it was drawn."""
        return all(finding.severity == "note" for finding in self.findings)

    def as_json(self) -> dict[str, Any]:
        """Give the file, its tubes and what was left out as a JSON object."""
        return {
            "file": str(self.file),
            "tubes": list(self.tubes),
            "left_out": list(self.left_out),
            "problems": [finding.as_json() for finding in self.findings],
        }


@dataclass(frozen=True, slots=True)
class Sent:
    """A job's tubes as the content of a file for others, and what it could not hold."""

    content: bytes
    tubes: tuple[str, ...]
    left_out: tuple[str, ...] = ()


def file_of(planned: JobPlan, ending: str, units: Units, form: str = "") -> Sent:
    """Give the content of a file of a job's tubes as planned now; nothing is written anywhere.

    Parameters
    ----------
    ending
        The kind of file: ".csv", or one of `DRAWN`.
    units
        Units of the file, where its kind leaves them open.
    form
        As for `convert`.

    Raises
    ------
    InputError
        A tube has no shape yet or cannot be planned, or it is no such kind.
    """
    if ending == ".csv":
        return _rows(planned.job, planned.bench, units, form)
    if ending not in DRAWN:
        raise InputError(f"expected one of .csv, {', '.join(DRAWN)}")
    return _drawn(planned, ending, units)


def convert(
    source: Path,
    target: Path,
    form: str = "",
    units: str = "",
    wall: str = "",
    material: str = "",
) -> Converted:
    """Turn tubes from one kind of file into another, by the files' endings.

    Parameters
    ----------
    form
        "corners" or "legs" for CSV: corners unless a bend is too wide to have one.
    units
        "mm" or "in"; left out, the source's own, and mm where it has none.
    wall, material
        For STEP: the wall of what is drawn as a solid bar, as text, and what tubes are made of.

    Raises
    ------
    InputError
        A file is wrong or of another kind, or it cannot hold what is asked.
    """
    _check(source, target, form)
    job, findings = _read(source, target, units, wall, material)
    if _ending(target) == ".toml":
        return replace(_to_toml(job, target, units), findings=findings)
    bench, written = bench_as_is(job), _units(units or job.units)
    if _ending(target) == ".csv":
        made = _rows(job, bench, written, form)
    else:
        made = _drawn(plan(job, bench), _ending(target), written)
    write_whole(target, made.content)
    return Converted(target.absolute(), made.tubes, made.left_out, findings)


def _read(
    source: Path, target: Path, units: str, wall: str, material: str
) -> tuple[Job, tuple[Finding, ...]]:
    if _ending(source) in (".step", ".stp"):
        bare = _units(units or "mm")
        thick = length_asked(wall, bare, "--wall") if wall else None
        as_drawn = _ending(target) in DRAWN
        taken = job_from_step(source, bare, thick, material, as_drawn=as_drawn)
        return taken.job, taken.findings
    if wall or material:
        raise InputError("--wall and --material: only for STEP, other files say both themselves")
    return (read_job(source) if _ending(source) == ".toml" else read_tube_csv(source)), ()


def _units(named: str) -> Units:
    return "in" if named == "in" else "mm"


def _to_toml(job: Job, target: Path, units: str) -> Converted:
    # what a job is made on must not change with the units it is written in
    written = job.model_copy(update={"units": units}).at_path(job.path) if units else job
    write_whole(target, job_toml(written, target.absolute().parent).encode())
    left_out = []
    if written.units != job.units and job.bench is None and own_bench_path() is None:
        left_out.append("the starter bench: that in other units has other names")
    return Converted(target.absolute(), tuple(tube.name for tube in job.tubes), tuple(left_out))


def _drawn(planned: JobPlan, ending: str, units: Units) -> Sent:
    """Give the tubes' solids, or their drawing, for other programs."""
    job = planned.job
    lost = [str(f) for one in planned.tubes if isinstance(one, Unplanned) for f in one.problems]
    if lost:
        raise InputError(f"{job.where}: {'; '.join(lost)}")
    tubes = [SolidTube(t.name, t.shape, t.setup.od, t.setup.wall) for t in planned.planned]
    if not tubes:
        raise InputError(f"{job.where}: tube: expected one at least")
    match ending:
        case ".stl":
            content = to_stl(tubes)
        case ".glb":
            content = to_glb(tubes)
        case ".step" | ".stp":
            content = to_step(tubes)
        case ".dxf":
            content = to_dxf(tubes, [_stick(one) for one in planned.planned], units, SIDES)
        case _:
            content = _sticks_svg(planned.planned, units, planned.bench.dial_step)
    return Sent(content, tuple(tube.name for tube in tubes))


def _stick(tube: TubePlan) -> Stick:
    bends = sorted(tube.bends, key=lambda bend: bend.n)
    return Stick(
        tube.name,
        tube.setup.od,
        tube.stock,
        tuple((str(bend.n), bend.mark) for bend in bends),
        tuple((cut.end, cut.mark) for cut in tube.cuts if cut.offcut > 0),
        tuple((bend.arc_from, bend.arc_to) for bend in bends),
    )


def _sticks_svg(tubes: Sequence[TubePlan], units: Units, dial_step: float) -> bytes:
    """Draw the sticks under each other at true size, each as a ruler with its marks."""
    numbers = Numbers(units, tubes[0].setup.tape, dial_step)
    marks: list[Mark] = []
    below = 0.0
    for tube in tubes:
        width = tube.stock + 2 * MARGIN
        ruler = stick_ruler(tube, numbers, width)
        box = stick_box(ruler, width)
        marks += moved(ruler, 0.0, below - box.top)
        below -= box.height + 4.0
        marks.append(Label(tube.name, (min(width, SHOWN) / 2, below), 4.0))
        below -= 10.0
    frame = Box(0.0, below, max(tube.stock for tube in tubes) + 2 * MARGIN, 2.0)
    return to_svg((rectangle(frame, palette.PAPER), *marks), frame, "Sticks with marks").encode()


def _check(source: Path, target: Path, form: str) -> None:
    if _ending(source) not in READ:
        raise InputError(f"{source}: expected a file ending in one of {', '.join(READ)}")
    if _ending(target) not in (".toml", ".csv", *DRAWN):
        listed = ", ".join((".toml", ".csv", *DRAWN))
        raise InputError(f"{target}: expected a file ending in one of {listed}")
    if source.absolute() == target.absolute():
        raise InputError(f"{target}: expected another file than the one to read")
    if form and _ending(target) != ".csv":
        raise InputError(f"--as {form}: only a .csv has rows of corners or of legs")


def _ending(path: Path) -> str:
    return path.suffix.lower()


def _rows(job: Job, bench: Bench, units: Units, form: str) -> Sent:
    """Give the tubes as rows of corners, or of legs and bends."""
    shaped = resolve(job, bench)
    lost = [str(finding) for shape, _ in shaped if shape.line is None for finding in shape.findings]
    if lost:
        raise InputError(f"{job.where}: {'; '.join(lost)}")
    shapes = [
        TubeShape(
            shape.name,
            setup.tubing,
            "" if setup.die == NO_DIE else setup.die,
            shape.line,
            shape.points,
        )
        for shape, setup in shaped
        if shape.line is not None
    ]
    widest = max((angle for shape in shapes for angle in shape.line.angles), default=0.0)
    if form == "corners" and widest > SPLIT_ABOVE:
        raise InputError(f"--as corners: a bend of {widest:g}° has no corner; expected --as legs")
    chosen: Form = "legs" if form == "legs" or widest > SPLIT_ABOVE else "corners"
    text = io.StringIO()
    write_tube_csv(text, shapes, chosen, units)
    names = tuple(shape.name for shape in shapes)
    return Sent(text.getvalue().encode(), names, tuple(not_in_csv(job)))
