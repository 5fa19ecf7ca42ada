"""The weld seam on a clock face, as one sees the tube from the tail when loading it."""

import math

from soapstone.sheets import palette
from soapstone.sheets.lettering import CAP_HEIGHT
from soapstone.sheets.sketch import Label, Mark, Pen, Point, Sketch, arrow_head, circle, line


def draw_seam(clock: float, size: float) -> Sketch:
    """Draw the tube's section with its seam at an hour, in a square of `size` mm."""
    centre = (size / 2, size / 2)
    ring = size / 2 - 4.6
    marks: list[Mark] = [
        circle(centre, ring - 1.6, palette.MIST, Pen(0.5)),
        circle(centre, (ring - 1.6) * 0.8, palette.PAPER, Pen(0.25, palette.STONE)),
    ]
    for hour in range(1, 13):
        if hour % 3 == 0:
            x, y = _on(centre, ring + 2.4, hour)
            marks.append(Label(str(hour), (x, y - CAP_HEIGHT * 1.4), 2.8, palette.STONE))
        else:
            pen = Pen(0.25, palette.PALE)
            marks.append(line((_on(centre, ring, hour), _on(centre, ring + 1.2, hour)), pen))
    seam = _on(centre, ring - 1.6, clock)
    marks.append(line((centre, _on(centre, ring - 4.2, clock)), Pen(0.4, palette.EMBER)))
    marks.append(arrow_head(_on(centre, ring - 3.0, clock), 90 - 30 * clock, 2.6, palette.EMBER))
    marks.append(circle(seam, 1.2, palette.EMBER))
    return tuple(marks)


def _on(centre: Point, radius: float, hour: float) -> Point:
    a = math.radians(90 - 30 * hour)
    return (centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a))
