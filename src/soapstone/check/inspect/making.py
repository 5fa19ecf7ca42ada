"""What a bender makes of a plan when nothing is quite as meant: causes in, made tubes out.

Every cause of error is counted in its own standard deviations, so that before anything is measured
all causes are independent standard normal numbers. The shape that comes out is exact for any size
of cause, not linearised: a dial stopped ten degrees too far is a cause like any other.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from soapstone.geometry.centreline import Centreline, Walk
from soapstone.geometry.chain import walk_arrays
from soapstone.geometry.vectors import Array
from soapstone.plan.model import BendStep, TubePlan

PLACED = 0.5
"""mm, standard deviation: a mark scribed, and brought to the die's index line. Common practice."""

CUT = 0.5
"""mm, standard deviation of a saw cut. Common practice."""

INDEX_LINE = 0.5
"""mm, standard deviation of where a die's index line is believed to be. Common practice."""

STRETCH = 0.003
"""Standard deviation of a die's stretch as the bench has it. Common practice."""

LEVEL = 0.25
"""Degrees, standard deviation of a level's reading on round tube. Common practice."""

BAND = 0.5
"""mm, standard deviation of a wrap band or a scribed line round the tube. Common practice."""

SHALLOWEST = 1e-3
"""Degrees: no cause makes a bend of less."""


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that may be off: `kind` and the bend it belongs to, 0 for none.

    Kinds are "dial line" and "springback" (what trial bends leave open), "index line", "stretch"
    (of the die), "scatter" (of one bend), "stop" (where the dial was stopped), "mark", "cut A",
    "cut B" and "roll".
    """

    kind: str
    bend: int = 0


@dataclass(frozen=True, slots=True)
class MadeTubes:
    """Tubes as made: arrays over any leading axes, bends in order from A. mm and degrees.

    `legs` (..., n + 1); `angles`, `rotations`, `radii` (..., n); `stock` (..., n) is the straight
    stock that each bend used up; `index` (...) how much farther from a bend the die's index line,
    and so the bend's mark, is than the bench says.
    """

    legs: Array
    angles: Array
    rotations: Array
    radii: Array
    stock: Array
    index: Array

    @property
    def numbers(self) -> Array:
        """(..., 4n + 1): legs, angles, rotations and radii in a row."""
        return np.concatenate((self.legs, self.angles, self.rotations, self.radii), axis=-1)

    def walk(self, line: Centreline) -> Walk:
        """Follow them through space, laid down by the A end of a drawn tube."""
        start, along, up = (np.array(a, dtype=float) for a in (line.start, line.along, line.up))
        return walk_arrays(start, along, up, self.legs, self.angles, self.rotations, self.radii)


@dataclass(frozen=True, slots=True, eq=False)
class Making:
    """How a plan is made, with what may be off.

    Attributes
    ----------
    plan
        The plan; `bends` are its steps in order from A.
    dials
        (n,) where the dial was stopped, degrees.
    causes
        The m causes of error.
    spread
        (2, 2) what the trial bends leave open of the dial's line, see `_line_spread`.
    told
        The bends whose dial was written down when they were bent.
    """

    plan: TubePlan
    bends: tuple[BendStep, ...]
    dials: Array
    causes: tuple[Cause, ...]
    spread: Array
    told: frozenset[int]

    @property
    def blamable(self) -> tuple[Cause, ...]:
        """The causes that somebody can have got wrong by any amount.

        Where the dial was written down it is a bend's springback that may be odd, not its stop.
        """
        kinds = ("mark", "roll", "cut A", "cut B")
        return tuple(
            cause
            for cause in self.causes
            if cause.kind in kinds
            or cause.kind == ("scatter" if cause.bend in self.told else "stop")
        )

    @property
    def count(self) -> int:
        """Number of bends."""
        return len(self.bends)

    def place_of(self, cause: Cause) -> int:
        """Where a cause stands in the row of causes."""
        return self.causes.index(cause)

    def made(self, off: Array) -> MadeTubes:
        """Give the tubes that come out when the causes are off by so many deviations (..., m)."""
        setup, n = self.plan.setup, self.count
        line, rest = off[..., :2] @ self.spread.T, off[..., 2:]
        index, stretch = rest[..., :1] * INDEX_LINE, setup.stretch + rest[..., 1:2] * STRETCH
        scatter, stop = rest[..., 2 : 2 + n], rest[..., 2 + n : 2 + 2 * n]
        marks, cuts = rest[..., 2 + 2 * n : 2 + 3 * n], rest[..., 2 + 3 * n : 4 + 3 * n]
        loaded, angles = self._bent(line, scatter, stop)
        growth = loaded / angles
        radii = setup.clr * growth
        stock = (1 - stretch) * setup.clr * np.radians(loaded)
        legs = self._legs(stock, index, marks * _mark_spread(setup.tape.step_mm), cuts)
        rotations = np.zeros_like(angles)
        if n > 1:
            drawn = np.array([bend.rotation for bend in self.bends])
            rolls = np.array([roll_spread(bend, setup.od) for bend in self.bends])
            rotations[..., 1:] = drawn[1:] + rest[..., 4 + 3 * n :] * rolls[1:]
        return MadeTubes(legs, angles, rotations, radii, stock, index[..., 0])

    def _bent(self, line: Array, scatter: Array, stop: Array) -> tuple[Array, Array]:
        """Loaded and free angles (..., n)."""
        setup = self.plan.setup
        known = setup.calibration
        belief = known.belief
        sigma = math.sqrt(float(belief.weight @ belief.sigma**2))
        # the trials know the line best at their own middle: it is raised there, and tilted there
        raised, tilted = line[..., :1], line[..., 1:2]
        zero = known.dial_zero + raised - tilted * belief.line.centre
        loaded = self.dials + stop * setup.dial_step / math.sqrt(12) - zero
        springback = known.springback + tilted
        angles = (loaded - sigma * scatter) / (1 + springback)
        return np.maximum(loaded, SHALLOWEST), np.maximum(angles, SHALLOWEST)

    def _legs(self, stock: Array, index: Array, marks: Array, cuts: Array) -> Array:
        """Straights (..., n + 1): what the bends leave of the stick between its ends."""
        from_a, to_b = self.plan.cuts
        ends = np.array([from_a.stock_mark, to_b.stock_mark]) + CUT * cuts
        if from_a.offcut <= 0:
            ends[..., 0] = 0.0  # the tape is hooked on this end, so it is where it is
        if to_b.offcut <= 0:
            ends[..., 1] += self.plan.stock_tape - to_b.stock_mark
        if not self.count:
            return ends[..., 1:] - ends[..., :1]
        told = np.array([bend.stock_mark for bend in self.bends]) + marks
        if self.bends[0].lead == "A":
            start = told + np.array([b.arc_from - b.mark for b in self.bends]) + index
            stop = start + stock
        else:
            stop = told + np.array([b.arc_to - b.mark for b in self.bends]) - index
            start = stop - stock
        before = np.concatenate((ends[..., :1], stop), axis=-1)
        after = np.concatenate((start, ends[..., 1:]), axis=-1)
        legs: Array = after - before
        return legs


def making_of(plan: TubePlan, dials: Mapping[int, float] | None = None) -> Making:
    """Say how a plan is made: marks and dial as rounded to tape and graduations.

    `dials` are the readings at which bends were truly stopped, by number; one that is not told and
    was to be crept up to is taken to have come out as drawn, within what the trials leave open.
    """
    told = dials or {}
    bends = tuple(sorted(plan.bends, key=lambda bend: bend.n))
    stops = [told.get(b.n, b.dial_stop if b.first_stop is None else float(b.dial)) for b in bends]
    n = len(bends)
    causes = (
        *(Cause(kind) for kind in ("dial line", "springback", "index line", "stretch")),
        *(Cause("scatter", i + 1) for i in range(n)),
        *(Cause("stop", i + 1) for i in range(n)),
        *(Cause("mark", i + 1) for i in range(n)),
        Cause("cut A"),
        Cause("cut B"),
        *(Cause("roll", i + 1) for i in range(1, n)),
    )
    dials_held = np.array(stops, dtype=float)
    return Making(plan, bends, dials_held, causes, _line_spread(plan), frozenset(told))


def steps(values: Array, size: float = 1e-4) -> Array:
    """Give every value moved up, then every value moved down: (2, m, m), for differences."""
    moved = size * np.eye(len(values))
    return np.stack((values + moved, values - moved))


def _line_spread(plan: TubePlan) -> Array:
    """(2, 2): level and slope of the dial's line for two independent standard normal numbers."""
    belief = plan.setup.calibration.belief
    line, weight = belief.line, belief.weight
    about = np.stack((line.level - weight @ line.level, line.slope - weight @ line.slope))
    within = np.array(
        [
            [weight @ line.var_level, weight @ line.covariance],
            [weight @ line.covariance, weight @ line.var_slope],
        ]
    )
    covariance = within + (about * weight) @ about.T
    values, ways = np.linalg.eigh(covariance)
    root: Array = (ways * np.sqrt(np.maximum(values, 0.0))) @ ways.T
    return root


def _mark_spread(step: float) -> float:
    """Standard deviation in mm of a mark: the tape's step, the scriber and the index line."""
    return math.hypot(step / math.sqrt(12), PLACED)


def roll_spread(bend: BendStep, od: float) -> float:
    """Standard deviation in degrees of a roll: by the level where one shows it, else by a band."""
    band = math.degrees(BAND / (od / 2))
    return band if bend.level is None else min(band, LEVEL / max(bend.level.sharpness, 1e-3))
