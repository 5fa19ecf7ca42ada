"""What would let a tube be bent that has no order in which it hits nothing."""

from collections.abc import Sequence
from dataclasses import replace

from soapstone.bench.bender import Bender
from soapstone.bench.setup import Setup
from soapstone.bend.handling import HAIR
from soapstone.bend.machine import Machine, machine_for
from soapstone.bend.order import best_order
from soapstone.bend.pose import Stick
from soapstone.findings import Say

TRIES = 5000
"""Motions looked at for one cure."""

HEIGHT_STEP = 50.0
"""mm to which the height of a die that would do is given."""

HIGHEST = 2500.0
"""mm above the floor; no die is put higher."""

LONGER_STEP, LONGEST = 10.0, 320.0
"""mm to which what a leg lacks is given, and the most that is tried."""

OTHER_SWING = {"left": "right", "right": "left", "up": "down", "down": "up"}


def cures(stick: Stick, setup: Setup, bender: Bender, say: Say) -> list[str]:
    """Say what would do, each alone.

    A shorter clamp or follower, a longer leg, a higher die, the other swing, or the tube in two
    pieces.
    """
    where = machine_for(setup, bender)
    found = [
        f"use a {block} that needs no more than {say(length)} of straight"
        for block in ("clamp", "follower")
        if (length := _block(stick, setup, bender, block)) is not None
    ]
    if (longer := _leg(stick, where)) is not None:
        leg, by = longer
        found.append(f"make leg {leg} {say(by)} longer if the shape allows")
    if height := _height(stick, setup, bender):
        found.append(f"put the die {say(height)} above the floor")
    other = OTHER_SWING[setup.swing]
    if _can(stick, machine_for(setup, bender, swing=other)):
        found.append(f"bend it where the lead end swings {other}")
    if (leg_cut := _cut(stick, where)) is not None:
        found.append(f"make it in two pieces, welded or sleeved in leg {leg_cut}")
    return found


def cure_words(found: Sequence[str]) -> str:
    """Say cures as what to do; a shape to change when there is none."""
    if not found:
        return "no order is free: change the shape, or bend it elsewhere"
    return f"no order is free; {', or '.join(found)}"


def _can(stick: Stick, where: Machine) -> bool:
    return bool(best_order(stick, where, most=TRIES).order)


def _block(stick: Stick, setup: Setup, bender: Bender, block: str) -> float | None:
    """Find the greatest straight that a shorter clamp or follower may need so that an order does.

    It is one of the straights of the tube.
    """
    needed = setup.clamp if block == "clamp" else setup.follower
    gaps = {b - a for a, b in zip(stick.arc_to, stick.arc_from[1:], strict=False)}
    shorter = sorted(gap for gap in gaps if 0 < gap < needed - HAIR)

    def does(length: float) -> bool:
        if block == "clamp":
            return _can(stick, machine_for(setup, bender, clamp=length))
        return _can(stick, machine_for(setup, bender, follower=length))

    return next((length for length in reversed(shorter) if does(length)), None)


def _leg(stick: Stick, where: Machine) -> tuple[int, float] | None:
    """Give the leg that must be made the least longer so that an order does, and by how much."""
    best: tuple[int, float] | None = None
    for leg in range(1, len(stick.angles) + 2):
        most = LONGEST if best is None else best[1]
        by = next((by for by in _lengths(most) if _can(lengthened(stick, leg, by), where)), None)
        if by is None:
            continue
        low = by / 2
        while by - low > LONGER_STEP:
            middle = LONGER_STEP * round((low + by) / 2 / LONGER_STEP)
            if _can(lengthened(stick, leg, middle), where):
                by = middle
            else:
                low = middle
        best = leg, by
    return best


def _lengths(most: float) -> list[float]:
    """Lengths to try, each twice the one before, that are less than the least found so far."""
    return [by for by in (20.0, 40.0, 80.0, 160.0, LONGEST) if by < most or by == most == LONGEST]


def lengthened(stick: Stick, leg: int, by: float) -> Stick:
    """Make one leg longer, counted from 1 at the A end; what comes after it moves on."""
    return replace(
        stick,
        stock=stick.stock + by,
        arc_from=tuple(at + by * (n >= leg) for n, at in enumerate(stick.arc_from, 1)),
        arc_to=tuple(at + by * (n >= leg) for n, at in enumerate(stick.arc_to, 1)),
    )


def _height(stick: Stick, setup: Setup, bender: Bender) -> float | None:
    """Find the least height of the die that would do, in whole `HEIGHT_STEP`.

    What a floor lets by, a lower one does too, so the search is by halves.
    """
    if bender.die_height is None:
        return None
    low, high = int(bender.die_height // HEIGHT_STEP), int(HIGHEST // HEIGHT_STEP)

    def does(steps: int) -> bool:
        return _can(stick, machine_for(setup, bender, die_height=steps * HEIGHT_STEP))

    if high <= low or not does(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if does(middle) else (middle, high)
    return high * HEIGHT_STEP


def _cut(stick: Stick, where: Machine) -> int | None:
    """Give the leg nearest to the middle in which the tube can be cut so that both pieces do."""
    bends = len(stick.angles)
    for k in sorted(range(1, bends), key=lambda k: abs(k - bends / 2)):
        if _can(_first(stick, k, where), where) and _can(_rest(stick, k, where), where):
            return k + 1
    return None


def _first(stick: Stick, k: int, where: Machine) -> Stick:
    """The piece with bends 1 to k, cut in the middle of the leg after them, with its grip."""
    half = (stick.arc_from[k] - stick.arc_to[k - 1]) / 2
    stock = stick.arc_to[k - 1] + max(half, where.clamp, where.follower)
    return replace(_some(stick, slice(0, k)), stock=stock)


def _rest(stick: Stick, k: int, where: Machine) -> Stick:
    """The piece with the bends after bend k."""
    half = (stick.arc_from[k] - stick.arc_to[k - 1]) / 2
    off = stick.arc_from[k] - max(half, where.clamp, where.follower)
    rest = _some(stick, slice(k, None))
    return replace(
        rest,
        stock=stick.stock - off,
        arc_from=tuple(at - off for at in rest.arc_from),
        arc_to=tuple(at - off for at in rest.arc_to),
        rotations=(0.0, *rest.rotations[1:]),
    )


def _some(stick: Stick, part: slice) -> Stick:
    return replace(
        stick,
        arc_from=stick.arc_from[part],
        arc_to=stick.arc_to[part],
        angles=stick.angles[part],
        loaded=stick.loaded[part],
        rotations=stick.rotations[part],
        radii=stick.radii[part],
    )
