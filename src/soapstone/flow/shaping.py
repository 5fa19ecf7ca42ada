"""A starter shape, from the few numbers that one measures, becomes a job to go on from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from soapstone.bench.model import Bench
from soapstone.bench.setup import die_and_tubing, setup_for
from soapstone.errors import InputError
from soapstone.exchange.job_toml import job_toml
from soapstone.findings import Finding
from soapstone.flow.showing import bench_at
from soapstone.geometry.vectors import Vec3
from soapstone.job.model import Job
from soapstone.job.tube import Tube
from soapstone.plan.as_json import problems_json
from soapstone.quantities import Units, format_fine, parse_angle, parse_length
from soapstone.shape.measured import Bent
from soapstone.shape.starter import STARTERS, Starter, starter_shape
from soapstone.textfiles import write_whole


@dataclass(frozen=True, slots=True)
class Shaped:
    """A starter shape: its numbers in mm and degrees, its corners, or why it has none."""

    name: str
    numbers: Mapping[str, float]
    points: tuple[Vec3, ...]
    findings: tuple[Finding, ...]
    units: str
    file: Path | None

    @property
    def sound(self) -> bool:
        """Whether there is such a shape."""
        return bool(self.points)

    def as_json(self) -> dict[str, Any]:
        """Give the shape as a JSON object in mm and degrees."""
        return {
            "shape": self.name,
            "numbers": dict(self.numbers),
            "points": [list(point) for point in self.points],
            "problems": problems_json(self.findings),
            "file": str(self.file) if self.file else None,
        }


def usual_units(bench_path: Path | None) -> Units:
    """Give the units in which a shape's numbers are asked for: those of the bench."""
    return "in" if bench_at(bench_path).units == "in" else "mm"


def shape_job(
    name: str,
    numbers: Sequence[str],
    bench_path: Path | None,
    die: str,
    tubing: str,
    out: Path | None,
) -> Shaped:
    """Make a starter shape of a die and tubing; with `out`, write a job that has it as its tube.

    `numbers` are written as "width=600" or "width=24 in", lengths in the bench's units; what is
    left out has its usual value.
    """
    bench = bench_at(bench_path)
    starter = _starter(name)
    of_die, of_tubing = die_and_tubing(bench, die, tubing)
    setup = setup_for(bench, of_die, of_tubing, bench.units)
    bent = Bent(setup.od, setup.clr_free, partial(format_fine, units=bench.units))
    values = _values(starter, numbers, bench)
    made = starter_shape(starter.name, bent, values)
    file = None
    if out is not None and made.points:
        tube = Tube(name=name, tubing=of_tubing.name, die=of_die.name, points=made.points)
        job = Job(name=name, units=bench.units, bench=_bench_name(bench), tubes=(tube,))
        if out.exists():
            raise InputError(f"{out}: it is there already; give a new name")
        write_whole(out, job_toml(job.at_path(out), out.absolute().parent).encode())
        file = out.absolute()
    return Shaped(starter.name, values, made.points, made.findings, bench.units, file)


def _bench_name(bench: Bench) -> str | None:
    return str(bench.path.absolute()) if bench.path else None


def _starter(name: str) -> Starter:
    if name not in STARTERS:
        listed = ", ".join(f'"{one}"' for one in STARTERS)
        raise InputError(f'no starter shape "{name}"; there are {listed}')
    return STARTERS[name]


def _values(starter: Starter, numbers: Sequence[str], bench: Bench) -> dict[str, float]:
    """Read the numbers given, and put the usual ones for the rest."""
    values = {measure.key: measure.start(bench.units) for measure in starter.measures}
    kinds = {measure.key: measure.kind for measure in starter.measures}
    for text in numbers:
        key, _, value = text.partition("=")
        if key not in kinds:
            raise InputError(f"{text}: expected one of {', '.join(f'{k}=...' for k in kinds)}")
        try:
            angle = kinds[key] == "angle"
            values[key] = parse_angle(value) if angle else parse_length(value, bench.units)
        except ValueError as fault:
            raise InputError(f"{key}: {fault}") from None
    return values
