"""From readings on a made tube to what is wrong with it."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from soapstone.check.inspect.adjust import SURE_95, AsMade, Blame, Doubt, adjust, find, noise
from soapstone.check.inspect.files import Taken
from soapstone.check.inspect.reads import drawn
from soapstone.check.inspect.result import AsMadeNumber, Inspection, Suspect, TrialRow
from soapstone.check.inspect.tolerance import Limits
from soapstone.check.inspect.words import findings
from soapstone.check.making import Cause, steps
from soapstone.geometry.vectors import Array, norm, wrap_degrees

LOOSE = 20.0
"""Times that dials, springback and rolls are freed where the readings alone shall speak."""

TEACHES = 1.0
"""Degrees: an angle known to no better than plus or minus this teaches a dial nothing."""


def inspect(taken: Taken, limits: Limits, units: str) -> Inspection:
    """Find the tube as made, hold it against the drawing, and say what is wrong."""
    answer, doubts = find(taken.making, taken.measured)
    factor = noise(answer)
    others = _others(answer, doubts)
    numbers = _numbers(answer, others, limits, factor)
    ends, ends_off = _ends(answer, factor)
    worst = _worst(numbers)
    moves = 0.0 if worst is None else _moves(answer, worst)
    suspects = tuple(_suspects(answer, doubts, taken.keys))
    plan = taken.making.plan
    found = Inspection(
        tube=plan.name,
        units=units,
        numbers=numbers,
        ends=ends,
        ends_plus_minus=ends_off,
        ends_limit=limits.ends,
        worst=worst,
        worst_moves=moves,
        suspects=suspects,
        trials=tuple(_trials(answer)),
        findings=(),
        source=limits.source,
        noise=factor,
    )
    return replace(found, findings=findings(found, taken))


def _numbers(
    answer: AsMade, others: Sequence[AsMade], limits: Limits, factor: float
) -> tuple[AsMadeNumber, ...]:
    making = answer.making
    n = making.count
    wanted = drawn(making.plan).numbers
    usual = np.sqrt((answer.slopes**2).sum(axis=1))
    rows = [("leg", i, i + 1, limits.legs[i]) for i in range(n + 1)]
    rows += [("angle", n + 1 + i, i + 1, limits.angles[i]) for i in range(n)]
    rows += [("roll", 2 * n + 1 + i, i + 1, limits.rotations[i]) for i in range(1, n)]
    found = []
    sure = _sure(answer, others)
    for what, place, number, limit in rows:
        off = float(answer.numbers[place] - wanted[place])
        if what == "roll":
            off = float(wrap_degrees(np.array(off)))
        spread = float(answer.spread[place])
        plus_minus = factor * float(sure[place])
        told = 1 - min(1.0, spread / usual[place]) if usual[place] > 0 else 0.0
        at = float(wanted[place])
        verdict = _verdict(abs(off), plus_minus, limit)
        found.append(
            AsMadeNumber(what, number, at, at + off, plus_minus, limit, verdict, float(told))
        )
    return tuple(found)


def _others(answer: AsMade, doubts: Sequence[Doubt]) -> list[AsMade]:
    """The answers by what would explain the misfits as well as what was taken for the mistake."""
    return [
        adjust(
            answer.making,
            answer.measured,
            {*answer.blamed - {doubt.blame}, blame},
            near=answer.off,
        )
        for doubt in doubts
        for blame in doubt.instead
    ]


def _sure(answer: AsMade, others: Sequence[AsMade]) -> Array:
    """Plus or minus of the numbers (4n + 1,): it holds wherever they may be by any explanation."""
    widths = [SURE_95 * answer.spread]
    for other in others:
        away = other.numbers - answer.numbers
        widths.append(np.abs(away) + SURE_95 * other.spread)
    most: Array = np.max(np.array(widths), axis=0)
    return most


def _verdict(off: float, plus_minus: float, limit: float) -> str:
    if off + plus_minus <= limit:
        return "good"
    return "out" if off - plus_minus > limit else "doubtful"


def _b_end(answer: AsMade, off: Array) -> Array:
    making = answer.making
    ends: Array = making.made(off).walk(making.plan.shape).nodes[..., -1, :]
    return ends


def _ends(answer: AsMade, factor: float) -> tuple[float, float]:
    """How far the B end is off with the A end laid right, and its plus or minus that way."""
    making = answer.making
    should = drawn(making.plan).walk(making.plan.shape).nodes[-1]
    away = _b_end(answer, answer.off) - should
    off = float(norm(away))
    up, down = _b_end(answer, steps(answer.off))
    slopes = (up - down).T / 2e-4
    covariance = slopes @ answer.inverse @ slopes.T
    way = away / off if off > 0 else np.array([1.0, 0.0, 0.0])
    return off, SURE_95 * factor * math.sqrt(max(float(way @ covariance @ way), 0.0))


def _worst(numbers: Sequence[AsMadeNumber]) -> AsMadeNumber | None:
    """The number that is off by most for what it is known to; None when all may be as drawn."""
    sure = [one for one in numbers if abs(one.off) > one.plus_minus]
    return max(sure, key=lambda one: abs(one.off) / max(one.plus_minus, 1e-9), default=None)


def _moves(answer: AsMade, one: AsMadeNumber) -> float:
    """How far the B end of the drawn tube moves when one number alone is as made, mm."""
    tube = drawn(answer.making.plan)
    should = tube.walk(answer.making.plan.shape).nodes[-1]
    values = {"leg": tube.legs, "angle": tube.angles, "roll": tube.rotations}[one.what]
    values[one.n - 1] = one.made
    return float(norm(tube.walk(answer.making.plan.shape).nodes[-1] - should))


def _suspects(answer: AsMade, doubts: Sequence[Doubt], keys: Sequence[str]) -> Iterator[Suspect]:
    for doubt in doubts:
        sure = not doubt.instead
        yield _suspect(answer, doubt.blame, keys, sure=sure)
        for blame in doubt.instead:
            other = adjust(answer.making, answer.measured, {*answer.blamed - {doubt.blame}, blame})
            yield _suspect(other, blame, keys, sure=sure)


def _suspect(answer: AsMade, blame: Blame, keys: Sequence[str], *, sure: bool) -> Suspect:
    if blame.cause is None:
        read = float(answer.measured.value[blame.reading])
        expected = float(answer.expected()[blame.reading])
        return Suspect(keys[blame.reading], read, expected, read - expected, sure)
    cause = _likelier(answer, blame.cause)
    row = {"stop": "dial", "scatter": "springback"}.get(cause.kind, cause.kind)
    row = f"{row} of bend {cause.bend}" if cause.bend else row
    return Suspect(row, 0.0, 0.0, _off_by(answer, cause), sure)


def _likelier(answer: AsMade, cause: Cause) -> Cause:
    """Of a dial stopped wrong and a bend that sprang back oddly, what the tape says is the more."""
    other = Cause("scatter", cause.bend)
    odd = cause.kind == "stop" and abs(_off_by(answer, other)) > abs(_off_by(answer, cause))
    return other if odd else cause


def _off_by(answer: AsMade, cause: Cause) -> float:
    """How far a cause is off, in mm or degrees."""
    making = answer.making
    unit = np.zeros(len(making.causes))
    unit[making.place_of(cause)] = 1.0
    size = float(np.abs(making.made(unit).numbers - making.made(0 * unit).numbers).max())
    if cause.kind == "scatter":
        size = float(making.made(0 * unit).angles[cause.bend - 1])
        size -= float(making.made(unit).angles[cause.bend - 1])
    if cause.kind == "stop":
        size = making.plan.setup.dial_step / math.sqrt(12)
    return size * float(answer.off[making.place_of(cause)])


def _trials(answer: AsMade) -> Iterator[TrialRow]:
    """The bends as trial bends, by the readings alone: what the trials promised is not in it."""
    making = answer.making
    n = making.count
    free = adjust(making, answer.measured, answer.blamed, LOOSE, answer.off)
    zero = making.plan.setup.calibration.dial_zero
    stopped = {
        blame.cause.bend
        for blame in answer.blamed
        if blame.cause is not None and blame.cause.kind == "stop"
    }
    for i, bend in enumerate(making.bends):
        told = bend.n in making.told or bend.first_stop is None
        off = SURE_95 * float(free.spread[n + 1 + i])
        angle, dial = float(free.numbers[n + 1 + i]), float(making.dials[i])
        if told and off < TEACHES and bend.n not in stopped and angle > 1.0:
            yield TrialRow(bend.n, dial, angle, off, (dial - zero) / angle - 1)
