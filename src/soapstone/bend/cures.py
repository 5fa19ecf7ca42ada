"""What would let a tube be bent that hits something in every order."""

from collections.abc import Sequence
from dataclasses import replace

from soapstone.bench.bender import Bender
from soapstone.bench.setup import Setup
from soapstone.bend.machine import Machine, machine_for
from soapstone.bend.order import best_order
from soapstone.bend.pose import Stick
from soapstone.findings import Say

TRIES = 2000
"""Parts of steps looked at for one cure."""

HEIGHT_STEP = 50.0
"""mm to which the height of a die that would do is given."""

HIGHEST = 2500.0
"""mm above the floor; no die is put higher."""

OTHER_SWING = {"left": "right", "right": "left", "up": "down", "down": "up"}


def cures(stick: Stick, setup: Setup, bender: Bender, say: Say) -> list[str]:
    """Say what would do, each alone: a higher die, the other swing, or the tube in two pieces."""
    found = []
    if height := _height(stick, setup, bender):
        found.append(f"put the die {say(height)} above the floor")
    other = OTHER_SWING[setup.swing]
    if _can(stick, machine_for(setup, bender, swing=other)):
        found.append(f"bend it where the lead end swings {other}")
    if (leg := _cut(stick, machine_for(setup, bender))) is not None:
        found.append(f"make it in two pieces, joined in leg {leg}")
    return found


def cure_words(found: Sequence[str]) -> str:
    """Say cures as what to do; a shape to change when there is none."""
    if not found:
        return "it hits something in every order: change the shape, or bend it elsewhere"
    return f"it hits something in every order; {', or '.join(found)}"


def _can(stick: Stick, where: Machine) -> bool:
    return bool(best_order(stick, where, most=TRIES).order)


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
