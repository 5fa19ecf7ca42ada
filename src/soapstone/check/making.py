"""What a bender makes of a plan when nothing is quite as meant: causes in, made tubes out.

Every cause of error is counted in its own standard deviations, so that before anything is measured
all causes are independent standard normal numbers. The shape that comes out is exact for any size
of cause, not linearised: a dial stopped ten degrees too far is a cause like any other.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from soapstone.bench.accuracy import WITHIN
from soapstone.bench.setup import Setup
from soapstone.check.creeping import KINDS, Creep, creep_of
from soapstone.geometry.centreline import Centreline, Walk
from soapstone.geometry.chain import walk_arrays
from soapstone.geometry.vectors import Array
from soapstone.plan.model import BendStep, TubePlan

SHALLOWEST = 1e-3
"""Degrees: no cause makes a bend of less."""


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that may be off: `kind` and the bend it belongs to, 0 for none.

    Kinds are "dial line" and "springback" (what trial bends leave open), "index line", "stretch"
    (of the die), "scatter" (of one bend), "stop" (where the dial was stopped), "mark", "cut A",
    "cut B" and "roll"; for bends crept up to also "protractor", "first stop" (of the dial), "first
    scatter" and "second scatter" (what two stops of one bend have not in common).
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
    turned
        (n, n - 1) how each rotation, from A, changes with each roll's error, in degrees: a roll
        turns its bend against the bend made before it, whichever lies between.
    creep
        The bends crept up to, None where all are taken as bent in one go.
    """

    plan: TubePlan
    bends: tuple[BendStep, ...]
    dials: Array
    causes: tuple[Cause, ...]
    spread: Array
    told: frozenset[int]
    turned: Array
    creep: Creep | None = None

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
        truth = setup.accuracy
        index = rest[..., :1] * truth.index_line / WITHIN
        stretch = setup.stretch + rest[..., 1:2] * truth.stretch / WITHIN
        scatter, stop = rest[..., 2 : 2 + n], rest[..., 2 + n : 2 + 2 * n]
        marks, cuts = rest[..., 2 + 2 * n : 2 + 3 * n], rest[..., 2 + 3 * n : 4 + 3 * n]
        rolls, own = rest[..., 4 + 3 * n : 3 + 4 * n], rest[..., 3 + 4 * n :]
        loaded, angles = self._bent(line, scatter, stop, own)
        growth = loaded / angles
        radii = setup.clr * growth
        stock = (1 - stretch) * setup.clr * np.radians(loaded)
        legs = self._legs(stock, index, marks * mark_spread(setup), cuts)
        rotations = np.zeros_like(angles)
        if n > 1:
            drawn = np.array([bend.rotation for bend in self.bends])
            rotations[..., 1:] = (drawn + rolls @ self.turned.T)[..., 1:]
        return MadeTubes(legs, angles, rotations, radii, stock, index[..., 0])

    def _bent(self, line: Array, scatter: Array, stop: Array, own: Array) -> tuple[Array, Array]:
        """Loaded and free angles (..., n); `own` are the causes of bends crept up to."""
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
        if self.creep is not None:
            at = list(self.creep.places)
            loaded[..., at], angles[..., at] = self.creep.bent(
                zero, springback, scatter[..., at], stop[..., at], own
            )
        return np.maximum(loaded, SHALLOWEST), np.maximum(angles, SHALLOWEST)

    def _legs(self, stock: Array, index: Array, marks: Array, cuts: Array) -> Array:
        """Straights (..., n + 1): what the bends leave of the stick between its ends."""
        from_a, to_b = self.plan.cuts
        sawn = cuts * self.plan.setup.accuracy.cut / WITHIN
        ends = np.array([from_a.stock_mark, to_b.stock_mark]) + sawn
        if from_a.offcut <= 0:
            ends[..., 0] = 0.0  # the tape is hooked on this end, so it is where it is
        if to_b.offcut <= 0:
            ends[..., 1] += self.plan.stock_tape - to_b.stock_mark
        if not self.count:
            return ends[..., 1:] - ends[..., :1]
        told = np.array([bend.stock_mark for bend in self.bends]) + marks
        from_mark = np.array([b.arc_from - b.mark for b in self.bends])
        to_mark = np.array([b.arc_to - b.mark for b in self.bends])
        a_leads = np.array([bend.lead == "A" for bend in self.bends])
        start = np.where(a_leads, told + from_mark + index, told + to_mark - index - stock)
        stop = start + stock
        before = np.concatenate((ends[..., :1], stop), axis=-1)
        after = np.concatenate((start, ends[..., 1:]), axis=-1)
        legs: Array = after - before
        return legs


def making_of(
    plan: TubePlan, dials: Mapping[int, float] | None = None, *, crept: bool = False
) -> Making:
    """Say how a plan is made: marks and dial as rounded to tape and graduations.

    `dials` are the readings at which bends were truly stopped, by number; one that is not told and
    was to be crept up to is taken to have come out as drawn, within what the trials leave open.
    With `crept` (and no `dials`) such a bend is stopped, measured and taken on instead.
    """
    told = dials or {}
    bends = tuple(sorted(plan.bends, key=lambda bend: bend.n))
    stops = [told.get(b.n, b.dial_stop if b.first_stop is None else float(b.dial)) for b in bends]
    n = len(bends)
    creep = creep_of(bends, plan.setup) if crept else None
    crept_up_to = [bends[i].n for i in creep.places] if creep else []
    rolled = sorted(plan.bends[1:], key=lambda bend: bend.n)
    causes = (
        *(Cause(kind) for kind in ("dial line", "springback", "index line", "stretch")),
        *(Cause("scatter", i + 1) for i in range(n)),
        *(Cause("stop", i + 1) for i in range(n)),
        *(Cause("mark", i + 1) for i in range(n)),
        Cause("cut A"),
        Cause("cut B"),
        *(Cause("roll", bend.n) for bend in rolled),
        *(Cause(kind, bend) for kind in KINDS for bend in crept_up_to),
    )
    dials_held = np.array(stops, dtype=float)
    turned = _turned(plan, rolled)
    spread = _line_spread(plan)
    return Making(plan, bends, dials_held, causes, spread, frozenset(told), turned, creep)


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


def _turned(plan: TubePlan, rolled: Sequence[BendStep]) -> Array:
    """Give `Making.turned`: what the errors of these bends' rolls do to rotations from A."""
    n = len(plan.bends)
    phases = np.zeros((n, len(rolled)))
    order = [bend.n - 1 for bend in plan.bends]
    column = {bend.n - 1: j for j, bend in enumerate(rolled)}
    for before, now in pairwise(order):
        phases[now] = phases[before]
        phases[now, column[now]] = roll_spread(rolled[column[now]], plan.setup)
    turned = np.zeros_like(phases)
    turned[1:] = np.diff(phases, axis=0)
    return turned


def mark_spread(setup: Setup) -> float:
    """Standard deviation in mm of a mark: the tape's step, the scriber and the index line."""
    return math.hypot(setup.tape.step_mm / math.sqrt(12), setup.accuracy.mark / WITHIN)


def roll_spread(bend: BendStep, setup: Setup) -> float:
    """Standard deviation in degrees of a roll: by the level where one shows it, else by a band."""
    truth = setup.accuracy
    band = math.degrees(truth.band / WITHIN / (setup.od / 2))
    level = truth.level / WITHIN
    return band if bend.level is None else min(band, level / max(bend.level.sharpness, 1e-3))
