"""The bounds that the certificate rests on hold at every point of a cell, however large it is."""

import numpy as np
import pytest

from soapstone.geometry.distance import line_pieces, pack
from tests.truth.gaps import points_at, seen_from, solid_distance
from tests.truth.random_keepouts import random_box, random_convex, random_hinges, random_line


def cell_of(rng, line_length: float, spans, width: float) -> np.ndarray:
    """A random cell: a part of the line and of each hinge's travel, `width` of it or less."""
    rows = []
    for low, high in [(0.0, line_length), *spans]:
        size = (high - low) * width * rng.random()
        start = rng.uniform(low, high - size)
        rows.append((start, start + size))
    return np.array(rows)


@pytest.mark.parametrize("count", [0, 1, 2, 3])
@pytest.mark.parametrize("width", [1.0, 0.2, 0.02])
def test_no_point_of_a_cell_is_nearer_than_its_bound(count: int, width: float) -> None:
    from soapstone.fit.motion import hinge_rows
    from soapstone.geometry.distance_cells import element_distance, least_over_cell
    from soapstone.geometry.distance_search import enter_cell, new_view

    rng, slack = np.random.default_rng(100 * count + int(50 * width)), []
    for i in range(40):
        kind = ("box", "cylinder", "ball", "halfspace")[i % 4]
        solid = random_box(rng) if kind == "box" else random_convex(rng, kind)
        line, hinges = random_line(rng), random_hinges(rng, count)
        rows, pieces, target = hinge_rows(hinges), line_pieces(line), pack(solid).target
        cell = cell_of(rng, pieces.starts[-1], rows[:, 6:], width)
        view = new_view(rows)
        away, error = enter_cell(pieces, rows, cell, view)
        bound = least_over_cell(view, element_distance(target, 0, view.frame), away, error)
        trials = rng.uniform(cell[:, 0], cell[:, 1], (80, count + 1))
        # the corners of a cell are where bounds fail first
        trials[:30] = np.where(rng.random((30, count + 1)) < 0.5, cell[:, 0], cell[:, 1])
        points = points_at(line, trials[:, 0])
        seen = [
            seen_from(point, hinges, np.degrees(angles))
            for point, angles in zip(points, trials[:, 1:], strict=True)
        ]
        distances = solid_distance(np.array(seen), solid)
        assert distances.min() >= bound - 1e-9
        slack.extend(distances - bound)
    if width == 0.02 and count == 0:
        assert np.median(slack) < 5  # the bound is not merely true


@pytest.mark.parametrize("width", [1.0, 0.1])
def test_the_search_on_part_of_a_swing_is_never_below_that_on_all_of_it(width: float) -> None:
    from soapstone.fit.clearance import KeepOut, clearances
    from soapstone.fit.motion import Hinge

    rng = np.random.default_rng(9)
    for _ in range(12):
        line, solid = random_line(rng), random_box(rng)
        (hinge,) = random_hinges(rng, 1)
        middle = (hinge.start + hinge.stop) / 2
        half = width * (hinge.stop - hinge.start) / 2
        part = Hinge(hinge.through, hinge.along, middle - half, middle + half)
        whole = clearances(line, 30.0, [KeepOut("it", solid, 5.0, (hinge,))])[0]
        found = clearances(line, 30.0, [KeepOut("it", solid, 5.0, (part,))])[0]
        assert found.high >= whole.gap - 1e-9
