"""Hypothesis strategies for centrelines and rigid moves."""

from hypothesis import strategies as st

from soapstone.geometry.centreline import Centreline
from soapstone.geometry.moves import move


def _rotations(count: int) -> st.SearchStrategy[list[float]]:
    one = st.one_of(st.sampled_from([0.0, 90.0, -90.0, 180.0]), st.floats(-179.0, 179.0, width=32))
    return st.lists(one, min_size=count, max_size=count)


@st.composite
def centrelines(draw, least=0, most=6, sharpest=170.0):
    """A centreline placed anywhere; bends from half a degree to `sharpest`."""
    count = draw(st.integers(least, most))
    legs = draw(st.lists(st.floats(1, 900), min_size=count + 1, max_size=count + 1))
    angles = draw(st.lists(st.floats(0.5, sharpest), min_size=count, max_size=count))
    rotations = draw(_rotations(count))
    if count:
        rotations[0] = 0.0
    radius = draw(st.floats(40, 400))
    plain = Centreline(
        (0.0, 0.0, 0.0),
        (1.0, 0.0, 0.0),
        (0.0, 0.0, 1.0),
        tuple(legs),
        tuple(angles),
        tuple(rotations),
        (radius,) * count,
    )
    return draw(moved(plain))


@st.composite
def moved(draw, line):
    """The same tube turned about a random axis and shifted."""
    axis = draw(st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda a: sum(x * x for x in a) > 0.1))
    by = draw(st.tuples(*[st.floats(-3000, 3000)] * 3))
    return move(line, by, axis, draw(st.floats(-180, 180)))
