"""How springback drifts from lot to lot, as a chart and in words."""

from collections.abc import Sequence
from math import hypot

from soapstone.flow.looking_back import LotDrift
from soapstone.web.chart import Axis, Chart, round_axis

HELD = 1.96
"""Standard deviations that hold 19 of 20."""

AT = 90.0
"""Degrees of bend that a change is told for."""


def drift_svg(lots: Sequence[LotDrift]) -> str:
    """Draw the springback of lots of one die and tubing, in the order begun, with its doubt."""
    ends = [
        100 * (lot.springback + side * HELD * lot.springback_sd) for lot in lots for side in (-1, 1)
    ]
    up = round_axis([0.0, *ends], "springback", " %")
    ticks = tuple((float(n), lot.lot or "no lot") for n, lot in enumerate(_thinned(lots)) if lot)
    across = Axis(-0.5, len(lots) - 0.5, ticks, "lots, in the order begun")
    chart = Chart(across, up, 260)
    places = [(float(n), 100 * lot.springback) for n, lot in enumerate(lots)]
    parts = [chart.line(places, "thread")] if len(lots) > 1 else []
    for (n, value), lot in zip(places, lots, strict=True):
        doubt = 100 * HELD * lot.springback_sd
        bends = "one bend" if lot.bends == 1 else f"{lot.bends} bends"
        name = f"{lot.lot or 'no lot'}, {lot.first}: {value:.1f} % ± {doubt:.1f}, {bends}"
        parts += [chart.whisker(n, value - doubt, value + doubt), chart.dot((n, value), name)]
    return chart.drawing(f"Springback by lot, {len(lots)} lots", parts)


def _thinned(lots: Sequence[LotDrift], most: int = 6) -> list[LotDrift | None]:
    """Leave so many lots a word that the words have room, the newest among them."""
    step = -(-len(lots) // most)
    last = len(lots) - 1
    return [lot if (last - n) % step == 0 else None for n, lot in enumerate(lots)]


def drift_words(lots: Sequence[LotDrift]) -> str:
    """Say what the newest lot does against the one before it."""
    newest = lots[-1]
    now = f"{newest.lot or 'The newest lot'} springs back {100 * newest.springback:.1f} %"
    if len(lots) == 1:
        return f"{now}. With a second lot it will show whether the metal changes."
    before, after = lots[-2:]
    change = AT * (after.springback - before.springback)
    doubt = AT * HELD * hypot(before.springback_sd, after.springback_sd)
    if abs(change) <= doubt:
        return f"{now}, no change from the lot before that these bends could show."
    more = "more" if change > 0 else "less"
    return (
        f"{now}: {abs(change):.1f}° {more} at {AT:.0f}° than the lot before, give or take "
        f"{doubt:.1f}°. Make trial bends of it before the next tube."
    )
