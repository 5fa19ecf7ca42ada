"""What a plan finds wrong or doubtful: straights too short for the die, marks off the stick."""

from collections.abc import Iterator, Sequence

from soapstone.bench.setup import Setup
from soapstone.findings import Finding, Say
from soapstone.geometry.centreline import Centreline
from soapstone.plan.model import BendStep
from soapstone.plan.order import HAIR, any_short, order_words, simplest_order
from soapstone.plan.rolls import DULL


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
        *_straights(name, line, bends, setup, say),
        *_marks(name, bends, setup, say),
        *_dial(name, bends, setup),
        *_stick(name, stock, setup, say),
        *_levels(name, bends),
    ]
    return sorted(findings, key=lambda finding: finding.severity != "stop")


def _straights(
    name: str, line: Centreline, bends: Sequence[BendStep], setup: Setup, say: Say
) -> Iterator[Finding]:
    """Clamp and follower must find straight up to the next bend made; end legs get grips."""
    clamp, follower = setup.clamp - HAIR, setup.follower - HAIR
    doubtful = [bend for bend in bends if bend.ahead < clamp or bend.behind < follower]
    if not doubtful:
        return
    better = _better_order(line, bends, setup)
    for bend, where, block, needs, there in _sides(doubtful, setup):
        if there >= needs - HAIR:
            continue
        made = _next_made(bend, where, bends)
        yield Finding(
            "stop",
            f"{name}, bend {bend.n}",
            f"{say(there)} of straight {where} it, up to bend {made}, and the "
            f"{block} needs {say(needs)}: {say(needs - there)} missing",
            better or f"move the bends apart, or use a shorter {block} block",
        )


def _sides(
    bends: Sequence[BendStep], setup: Setup
) -> Iterator[tuple[BendStep, str, str, float, float]]:
    """Give for both sides of bends what holds there, the straight it needs, and what there is."""
    for bend in bends:
        yield bend, "ahead of", "clamp", setup.clamp, bend.ahead
        yield bend, "behind", "follower", setup.follower, bend.behind


def _next_made(bend: BendStep, where: str, bends: Sequence[BendStep]) -> int:
    """The bend made before that lies next on one side of a bend."""
    made = [other.n for other in bends[: bends.index(bend)]]
    if (where == "behind") == (bend.lead == "A"):
        return min(n for n in made if n > bend.n)
    return max(n for n in made if n < bend.n)


def _better_order(line: Centreline, bends: Sequence[BendStep], setup: Setup) -> str:
    """Say in which order the bends find all the straight they need; nothing when in none."""
    arcs = [bend.arc_to - bend.arc_from for bend in sorted(bends, key=lambda bend: bend.n)]
    order = simplest_order(line.legs, arcs, setup.clamp, setup.follower)
    if any_short(order, line.legs, arcs, setup.clamp, setup.follower):
        return ""
    return f"make the bends in the order {order_words(order)}"


def _marks(name: str, bends: Sequence[BendStep], setup: Setup, say: Say) -> Iterator[Finding]:
    """A mark that lies beyond the straight in the die cannot be set to the index line."""
    to_lead, to_tail = setup.mark_offset - HAIR, -setup.mark_offset - HAIR
    for bend in bends:
        past = bend.ahead < to_lead
        if not past and bend.behind + bend.arc_to - bend.arc_from >= to_tail:
            continue
        made = _next_made(bend, "ahead of" if past else "behind", bends)
        start = bend.arc_from if bend.lead == "A" else bend.arc_to
        yield Finding(
            "warn",
            f"{name}, bend {bend.n}",
            f"its mark lies on bend {made} or past it, and that bend is made before",
            f"mark the stick where the bend starts too, {say(start)} from its A end, and set that "
            "to where the die's groove begins to curve",
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
        listed = ", ".join(str(n) for n in sorted(bend.n for bend in unsure))
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
    dull = sorted(b.n for b in bends[1:] if b.level is None or b.level.sharpness < DULL)
    if dull:
        listed = ", ".join(map(str, dull))
        yield Finding(
            "note",
            f"{name}, bend {listed}",
            "no straight made so far shows the roll well on a level",
            "set the roll by the degrees on the wrap band",
        )
