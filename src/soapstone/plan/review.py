"""What a plan finds wrong or doubtful: straights too short for the die, marks off the stick."""

from collections.abc import Iterator, Sequence

from soapstone.bench.setup import Setup
from soapstone.findings import Finding, Say
from soapstone.geometry.centreline import Centreline
from soapstone.plan.model import BendStep
from soapstone.plan.rolls import DULL

HAIR = 1e-6
"""Length in mm that no tape shows: limits are kept to within this."""


def review(
    name: str,
    line: Centreline,
    bends: Sequence[BendStep],
    stock: float,
    setup: Setup,
    say: Say,
) -> list[Finding]:
    """Give everything to know about one planned tube, worst first."""
    findings = [
        *_straights(name, line, setup, say),
        *_dial(name, bends, setup),
        *_stick(name, stock, setup, say),
        *_levels(name, bends),
    ]
    return sorted(findings, key=lambda finding: finding.severity != "stop")


def _straights(name: str, line: Centreline, setup: Setup, say: Say) -> Iterator[Finding]:
    """Between two bends the clamp must hold straight; end legs get grips instead."""
    for i, leg in enumerate(line.legs[1:-1], start=2):
        if leg < setup.clamp - HAIR:
            yield Finding(
                "stop",
                f"{name}, leg {i}",
                f"{say(leg)} of straight between bend {i - 1} and {i}, and the clamp needs "
                f"{say(setup.clamp)}: {say(setup.clamp - leg)} missing",
                "move the bends apart, or use a shorter clamp block",
            )


def _dial(name: str, bends: Sequence[BendStep], setup: Setup) -> Iterator[Finding]:
    for bend in bends:
        if bend.loaded > setup.max_angle + HAIR:
            yield Finding(
                "stop",
                f"{name}, bend {bend.n}",
                f"the die must turn {bend.loaded:.1f}°, and the bender stops at "
                f"{setup.max_angle:g}°",
                "split it into two bends, or lower the angle",
            )
        yield from _graduations(f"{name}, bend {bend.n}", bend, setup)
    unsure = [bend for bend in bends if bend.first_stop is not None]
    if unsure:
        spread = max((bend.dial_high - bend.dial_low) / 2 for bend in unsure)
        listed = ", ".join(str(bend.n) for bend in unsure)
        yield Finding(
            "warn",
            f"{name}, bend {listed}",
            f"the dial is only known to ±{spread:.1f}° for {setup.tubing} on {setup.die}",
            "stop at the first stop, release and measure; a few trial bends narrow it",
        )


def _graduations(where: str, bend: BendStep, setup: Setup) -> Iterator[Finding]:
    """A dial that cannot be set finely enough for this bend."""
    step, zero = setup.dial_step, setup.calibration.dial_zero
    if bend.dial - zero < step or (bend.first_stop is not None and bend.first_stop <= zero):
        yield Finding(
            "warn",
            where,
            f"its {bend.angle:.1f}° are too few for what is known of the dial",
            "bend it in small steps, and measure after each",
        )
    elif abs(bend.dial_stop - bend.dial) > setup.tolerance:
        yield Finding(
            "warn",
            where,
            f"the dial's nearest graduation is {abs(bend.dial_stop - bend.dial):.1f}° off",
            f"stop between graduations, at {bend.dial:.1f}°",
        )


def _stick(name: str, stock: float, setup: Setup, say: Say) -> Iterator[Finding]:
    if setup.sticks and stock > max(setup.sticks) + HAIR:
        longest = max(setup.sticks)
        yield Finding(
            "stop",
            name,
            f"it needs {say(stock)} of {setup.tubing}, and the longest stick is {say(longest)}: "
            f"{say(stock - longest)} missing",
            "make it in two pieces, or buy a longer stick",
        )


def _levels(name: str, bends: Sequence[BendStep]) -> Iterator[Finding]:
    dull = [b.n for b in bends[1:] if b.level is None or b.level.sharpness < DULL]
    if dull:
        listed = ", ".join(map(str, dull))
        yield Finding(
            "note",
            f"{name}, bend {listed}",
            "no straight made so far shows the roll well on a level",
            "set the roll by the degrees on the wrap band",
        )
