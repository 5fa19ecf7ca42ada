"""A die's radius, stretch and index line from one bent piece that has been taped.

A piece of known length was marked, bent and measured. What a tape and a square find on it:

- the angle after release, t;
- how far each end is from the outermost of the bend ("overall"), or, on a bend short of 90 degrees,
  from the corner where the outsides of both straights would meet;
- how wide a hairpin is, or how far the corner stands off a lesser bend ("gap").

The bend starts mark + mark_offset from the lead end. On release the arc has the radius
R = clr loaded / t = clr (1 + springback) and has used (1 - stretch) R t of stock. So width or gap
give R, the lead end then gives mark_offset, and the tail end gives the stock used and with it
stretch. The springback is needed only to turn R into the die's own clr.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields

import numpy as np

from soapstone.bench.calibrate import Calibration
from soapstone.errors import InputError
from soapstone.findings import Finding
from soapstone.geometry.vectors import Array
from soapstone.quantities import Units

TAPE_SD = 0.5  # mm; a tape read to half a millimetre, hook and eye included
ANGLE_SD = 0.15  # degrees; a digital protractor on short straights
CORNER = 2.0  # a corner of two straight-edges is found half as well as a square end
DISAGREE = 3.0  # standard deviations beyond which measurements contradict each other


@dataclass(frozen=True, slots=True)
class MeasuredPiece:
    """What was written down about one trial piece: mm and degrees.

    Attributes
    ----------
    stock, mark
        Length of the straight piece, and of the mark from its lead end, as taped before bending.
    angle
        Angle of the bend after release: 180 for straights that lie parallel.
    lead_overall, tail_overall
        From the lead end (the tail end), along its straight, to the outermost of the bend. For
        bends of 90 degrees and more.
    width
        Across a hairpin at its lead end, square to the lead straight, outside to outside.
    gap
        From the corner where the outsides of the straights would meet, to the nearest of the bend.
    lead_corner, tail_corner
        From the lead end (the tail end) to that corner.
    """

    stock: float
    mark: float
    angle: float
    lead_overall: float | None = None
    tail_overall: float | None = None
    width: float | None = None
    gap: float | None = None
    lead_corner: float | None = None
    tail_corner: float | None = None


@dataclass(frozen=True, slots=True)
class LearnedDie:
    """A die as the trial pieces show it: mm, and each with its standard deviation."""

    clr: float
    clr_sd: float
    stretch: float
    stretch_sd: float
    mark_offset: float
    mark_offset_sd: float
    clr_free: float
    clr_free_sd: float
    problems: tuple[Finding, ...]

    def figures(self, units: Units = "mm") -> dict[str, str]:
        """Give what goes into the die's table of the bench file, by key, as written there."""
        lines = (line.partition("  #")[0].partition(" = ") for line in self.bench_lines(units))
        return {key: value.strip('"') for key, _, value in lines}

    def bench_lines(self, units: Units = "mm") -> tuple[str, ...]:
        """Give the lines that go into the die's table of the bench file, with their doubt."""
        unit, decimals = (25.4, 3) if units == "in" else (1.0, 1)

        def line(key: str, mm: float, sd: float) -> str:
            value, doubt = mm / unit, 2 * sd / unit
            return f'{key} = "{value:.{decimals}f} {units}"  # +- {doubt:.{decimals}f}'

        return (
            line("clr", self.clr, self.clr_sd),
            line("mark_offset", self.mark_offset, self.mark_offset_sd),
            f"stretch = {self.stretch:.4f}  # +- {2 * self.stretch_sd:.4f}",
        )


@dataclass(frozen=True, slots=True)
class _Bend:
    """Unknowns of one piece as they really are: mm and radians."""

    radius: float
    stretch: float
    mark_offset: float
    stock: float
    mark: float
    angle_rad: float
    outside: float  # radius of the bend's outside

    @property
    def lead(self) -> float:
        return self.mark + self.mark_offset

    @property
    def tail(self) -> float:
        return self.stock - self.lead - (1.0 - self.stretch) * self.radius * self.angle_rad

    def width(self) -> float:
        """Where the square at the lead end meets the other straight's outside."""
        across = self.outside + self.lead * math.sin(self.angle_rad)
        return self.outside - across / math.cos(self.angle_rad)

    def to_corner(self) -> float:
        return self.outside * math.tan(self.angle_rad / 2.0)

    def gap(self) -> float:
        return self.outside * (1.0 / math.cos(self.angle_rad / 2.0) - 1.0)


# What each tape reading should be; its doubt as a multiple of the tape's; least and most angle.
_READINGS: dict[str, tuple[Callable[[_Bend], float], float, float, float]] = {
    "lead_overall": (lambda bend: bend.lead + bend.outside, 1.0, 89.0, 200.0),
    "tail_overall": (lambda bend: bend.tail + bend.outside, 1.0, 89.0, 200.0),
    "width": (_Bend.width, 1.0, 120.0, 200.0),
    "gap": (_Bend.gap, CORNER, 30.0, 150.0),
    "lead_corner": (lambda bend: bend.lead + bend.to_corner(), CORNER, 10.0, 150.0),
    "tail_corner": (lambda bend: bend.tail + bend.to_corner(), CORNER, 10.0, 150.0),
}
_SHARED = 3  # radius, stretch, mark_offset; then stock, mark and angle of each piece


def learn_die(
    pieces: Sequence[MeasuredPiece],
    od: float,
    springback: float,
    springback_sd: float = 0.0,
    *,
    tape_sd: float = TAPE_SD,
    angle_sd: float = ANGLE_SD,
    where: str = "trial piece",
) -> LearnedDie:
    """Find clr, stretch and mark_offset from measured trial pieces, by least squares.

    Everything taped counts with the tape's doubt, stock and mark included; more pieces or more
    readings than needed make the answer surer, and show contradictions.

    Parameters
    ----------
    pieces
        At least one; each with at least what its plan asks for.
    od
        Outside diameter of the tube, mm.
    springback, springback_sd
        Springback as a fraction of the finished angle, and how well it is known.
    tape_sd, angle_sd
        Standard deviation of a tape reading in mm and of an angle in degrees.
    where
        Name for the findings.

    Raises
    ------
    InputError
        A reading is impossible, belongs to another angle, or all together leave something open.
    ValueError
        Without a piece.
    """
    if not pieces:
        msg = "at least one measured piece is needed"
        raise ValueError(msg)
    for number, piece in enumerate(pieces, 1):
        _reject(piece, f"{where} {number}" if len(pieces) > 1 else where)
    solution, covariance, misfit = _least_squares(
        pieces, od, tape_sd, math.radians(angle_sd), where
    )
    radius, stretch, offset = map(float, solution[:_SHARED])
    radius_sd, stretch_sd, offset_sd = map(float, np.sqrt(np.diagonal(covariance))[:_SHARED])
    clr = radius / (1.0 + springback)
    return LearnedDie(
        clr=clr,
        clr_sd=math.hypot(radius_sd, clr * springback_sd) / (1.0 + springback),
        stretch=stretch,
        stretch_sd=stretch_sd,
        mark_offset=offset,
        mark_offset_sd=offset_sd,
        clr_free=radius,
        clr_free_sd=radius_sd,
        problems=_doubts(stretch, misfit, where),
    )


def _reject(piece: MeasuredPiece, where: str) -> None:
    for entry in fields(piece):
        value = getattr(piece, entry.name)
        if value is not None and not 0.0 < value < 1e5:
            unit = "degrees" if entry.name == "angle" else "mm"
            msg = f"{where}, {entry.name}: expected a number of {unit} above 0, found {value:g}"
            raise InputError(msg)
    if piece.mark >= piece.stock:
        msg = f"{where}, mark: expected less than the stock's length"
        raise InputError(f"{msg}, found {piece.mark:g}")
    for name, (_, _, least, most) in _READINGS.items():
        if getattr(piece, name) is not None and not least <= piece.angle <= most:
            msg = f"{where}, {name}: expected only on bends of {least:g} to {most:g} degrees"
            raise InputError(f"{msg}, this one is {piece.angle:g}")


def _least_squares(
    pieces: Sequence[MeasuredPiece], od: float, tape_sd: float, angle_sd_rad: float, where: str
) -> tuple[Array, Array, float]:
    """Solve by Gauss-Newton. Gives unknowns, covariance, and the misfit per spare reading."""

    def residual(unknown: Array) -> Array:
        return np.concatenate(
            [
                _residual(piece, unknown, index, od / 2.0, (tape_sd, angle_sd_rad))
                for index, piece in enumerate(pieces)
            ]
        )

    taped = [(piece.stock, piece.mark, math.radians(piece.angle)) for piece in pieces]
    unknown = np.array([3.0 * od, 0.0, 0.0, *(value for piece in taped for value in piece)])
    scale = np.array([1.0, 0.01, 1.0, *(1.0, 1.0, 0.01) * len(pieces)])
    for _ in range(40):
        slopes = _slopes(residual, unknown, scale)
        if np.linalg.matrix_rank(slopes, tol=1e-4) < unknown.size:
            raise InputError(f"{where}: {_NEEDED}")
        step = np.linalg.lstsq(slopes, -residual(unknown), rcond=None)[0]
        unknown = unknown + step * scale
        if np.abs(step).max() < 1e-8:
            break
    if not np.isfinite(unknown).all() or unknown[0] <= od / 2.0:
        raise InputError(f"{where}: the readings fit no bend of this tube; measure them again")
    covariance = np.asarray(np.linalg.inv(slopes.T @ slopes) * np.outer(scale, scale), float)
    left = residual(unknown)
    spare = left.size - unknown.size
    return unknown, covariance, math.sqrt(float(left @ left) / spare) if spare else 0.0


_NEEDED = (
    "the readings leave something open; expected both ends (overall or corner) "
    "and the width or the gap"
)


def _residual(
    piece: MeasuredPiece, unknown: Array, index: int, tube_radius: float, sd: tuple[float, float]
) -> Array:
    """Give readings less what they should be, in standard deviations, for one piece."""
    tape_sd, angle_sd_rad = sd
    stock, mark, angle_rad = unknown[_SHARED + 3 * index : _SHARED + 3 * index + 3]
    radius, stretch, offset = unknown[:_SHARED]
    bend = _Bend(radius, stretch, offset, stock, mark, angle_rad, radius + tube_radius)
    found = [
        (stock - piece.stock) / tape_sd,
        (mark - piece.mark) / tape_sd,
        (angle_rad - math.radians(piece.angle)) / angle_sd_rad,
    ]
    for name, (expected, doubt, _, _) in _READINGS.items():
        taped = getattr(piece, name)
        if taped is not None:
            found.append((expected(bend) - taped) / (doubt * tape_sd))
    return np.array(found)


def _slopes(residual: Callable[[Array], Array], unknown: Array, scale: Array) -> Array:
    """Differentiate by central differences, in units of `scale`: (readings, unknowns)."""
    columns = []
    for index in range(unknown.size):
        step = np.zeros_like(unknown)
        step[index] = 1e-4 * scale[index]
        columns.append((residual(unknown + step) - residual(unknown - step)) / 2e-4)
    return np.column_stack(columns)


def _doubts(stretch: float, misfit: float, where: str) -> tuple[Finding, ...]:
    found = []
    if misfit > DISAGREE:
        what = f"the readings contradict each other, by {misfit:.1f} times what a tape leaves open"
        found.append(Finding("warn", where, what, "tape the piece again"))
    if not -0.03 <= stretch <= 0.15:
        what = f"the stretch comes out at {stretch:.3f}, which tube hardly does"
        found.append(Finding("warn", where, what, "tape again, and look for slip in the clamp"))
    return tuple(found)


def springback_of(calibration: Calibration) -> tuple[float, float]:
    """Give springback and its standard deviation, as `learn_die` takes them."""
    return calibration.springback, calibration.springback_sd
