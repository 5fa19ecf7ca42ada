"""What trial bends say of a dial: the chart, and the interval in words."""

from collections.abc import Sequence

import numpy as np

from soapstone.bench.calibrate import Calibration
from soapstone.flow.showing import TrialBend
from soapstone.geometry.vectors import Array
from soapstone.web.chart import Axis, Chart, round_axis

PLACES = 61
"""Angles that band and line are drawn through."""

LEAST = 5.0
"""Degrees: where the drawing starts; nobody bends less."""


def springback_svg(
    known: Calibration, bends: Sequence[TrialBend], asked: float, most: float
) -> str:
    """Draw how far beyond the finished angle the dial must go, by that angle.

    `asked` is the angle to point out, `most` the largest that is bent, in degrees.
    """
    reach = min(most, max(120.0, asked * 1.1, *(bend.angle * 1.1 for bend in bends), 0.0))
    angles = np.linspace(LEAST, max(reach, LEAST + 1), PLACES)
    low, high = known.interval(angles)
    extra = [bend.dial - bend.angle for bend in bends]
    up = round_axis([0.0, *(low - angles), *(high - angles), *extra], "further on the dial", "°")
    chart = Chart(_angles(float(angles[-1])), up)
    middle = known.dial(angles) - angles
    stop = float(known.dial(asked))
    parts = [
        chart.band(_places(angles, low - angles), _places(angles, high - angles)),
        chart.line(_places(angles, middle)),
        *(_trial(chart, bend) for bend in bends),
        chart.plumb(asked),
        chart.dot((asked, stop - asked), f"{asked:g}° takes {stop:.1f}°", "dot asked"),
    ]
    name = f"Dial beyond the finished angle: {len(bends)} trial bends, line and 95 % band"
    return chart.drawing(name, parts)


def _angles(most: float) -> Axis:
    ticks = tuple((float(n), f"{n}°") for n in range(0, int(most) + 1, 30))
    return Axis(0.0, most, ticks, "angle of the finished bend")


def _places(angles: Array, values: Array) -> list[tuple[float, float]]:
    return list(zip(angles.tolist(), values.tolist(), strict=True))


def _trial(chart: Chart, bend: TrialBend) -> str:
    lot = f", {bend.lot}" if bend.lot else ""
    name = f"dial {bend.dial:g}°, came out at {bend.angle:g}°{lot}"
    kind = "dot" if bend.counts else "dot old"
    return chart.dot((bend.angle, bend.dial - bend.angle), name, kind)


def knowledge_words(known: Calibration, asked: float) -> str:
    """Say what is known of the dial at an angle, and how well."""
    low, high = (float(end) for end in known.interval(asked))
    said = f"19 of 20 bends to {asked:g}° need a reading from {low:.1f}° to {high:.1f}°"
    if not known.trials:
        return f"{said}: a guess from the metal alone, no bend was tried yet."
    if known.trials == 1:
        return f"{said}, as one trial bend has it."
    return f"{said}, as {known.trials} trial bends have it."


def stop_words(known: Calibration, asked: float, tolerance: float) -> str:
    """Say whether to bend in one go, or where to stop first."""
    first = known.first_stop(asked, tolerance)
    if first is None:
        return f"Known well enough to bend in one go, within {tolerance:g}°."
    return (
        f"Stop first at {first:.1f}°, release and measure: it is hardly ever too far there, and "
        "metal cannot be taken back."
    )
