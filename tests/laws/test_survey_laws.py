"""What must hold of any survey: moved, mirrored, shuffled, in other units, with more rows."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soapstone.job.survey import Survey, SurveyResult, survey
from soapstone.job.survey.model import Levelled, Taped
from tests.job.stern import ALL, BRACES, MARKS, TO_DATUM, stern, taped

SLOW = settings(max_examples=8, deadline=None)


def places(result: SurveyResult) -> np.ndarray:
    return np.array([result.points[name].at for name in MARKS])


def spreads(result: SurveyResult) -> list[float]:
    return [result.points[name].plus_minus for name in MARKS]


def measured(seed: int) -> Survey:
    data = stern(lot=np.random.default_rng(seed))
    row = Levelled(points=("pivot port", "pivot starboard"))
    return data.model_copy(update={"levels": (row,)})


@SLOW
@given(
    turned=st.floats(-180, 180),
    shift=st.tuples(*[st.floats(-3000, 3000)] * 3),
    seed=st.integers(0, 50),
)
def test_moving_the_datum_moves_the_points(
    turned: float, shift: tuple[float, float, float], seed: int
) -> None:
    angle_rad = np.radians(turned)
    cosine, sine = np.cos(angle_rad), np.sin(angle_rad)
    turn = np.array([[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1]])
    data = measured(seed)
    moved = {name: tuple(turn @ at + shift) for name, at in data.datum.items()}
    here, there = survey(data), survey(data.model_copy(update={"datum": moved}))
    assert places(there) == pytest.approx(places(here) @ turn.T + shift, abs=1e-5)
    assert spreads(there) == pytest.approx(spreads(here), rel=1e-5)


@SLOW
@given(seed=st.integers(0, 50))
def test_the_mirror_image_of_a_survey_is_the_survey_of_the_mirror_image(seed: int) -> None:
    data = measured(seed)
    across = np.array([1.0, -1.0, 1.0])
    mirrored = {name: tuple(across * at) for name, at in data.datum.items()}
    there = survey(data.model_copy(update={"datum": mirrored}))
    assert places(there) == pytest.approx(places(survey(data)) * across, abs=1e-5)


@SLOW
@given(order=st.permutations(range(len(ALL))), backwards=st.booleans())
def test_the_order_of_rows_and_ends_does_not_matter(order: list[int], backwards: bool) -> None:
    data = measured(3)
    rows = [data.tapes[k] for k in order]
    if backwards:
        rows = [Taped(start=row.end, end=row.start, length=row.length) for row in rows]
    here, there = survey(data), survey(data.model_copy(update={"tapes": tuple(rows)}))
    assert places(there) == pytest.approx(places(here), abs=1e-6)
    assert spreads(there) == pytest.approx(spreads(here), rel=1e-6)


@SLOW
@given(times=st.floats(0.2, 5))
def test_plus_minus_in_gives_plus_minus_out(times: float) -> None:
    data = stern(levels=(Levelled(points=("pivot port", "pivot starboard")),))
    scaled = survey(data.model_copy(update={"plus_minus": times * data.plus_minus}))
    expected = [times * spread for spread in spreads(survey(data))]
    assert spreads(scaled) == pytest.approx(expected, rel=1e-5)


@SLOW
@given(kept=st.sets(st.sampled_from(BRACES), max_size=6))
def test_more_rows_never_make_a_point_worse(kept: set[tuple[str, str]]) -> None:
    few = survey(stern([*TO_DATUM, *(pair for pair in BRACES if pair in kept)]))
    many = survey(stern(ALL))
    for less, more in zip(spreads(few), spreads(many), strict=True):
        assert more <= less * (1 + 1e-6)


@SLOW
@given(seed=st.integers(0, 50), by=st.sampled_from([-150.0, -40.0, 35.0, 250.0]), k=st.data())
def test_a_gross_slip_in_a_well_braced_survey_never_goes_unseen(
    seed: int, by: float, k: st.DataObject
) -> None:
    pair = k.draw(st.sampled_from(ALL))
    lot = np.random.default_rng(seed)
    result = survey(stern(off={pair: by}, lot=lot))
    assert pair in {suspect.points for suspect in result.suspects}


def test_nothing_is_left_to_chance() -> None:
    data = stern(off={("cowl", "keel"): 30.0}, lot=np.random.default_rng(6))
    assert survey(data).as_json() == survey(data).as_json()


def test_repeating_a_tape_is_worth_as_much_as_a_better_tape() -> None:
    """Two tapes of one distance weigh as one that is good to plus_minus / sqrt 2."""
    pair = ("cowl", "keel")
    twice = survey(stern([*ALL, pair]))
    (better,) = taped([pair], plus_minus=2.0)
    better = better.model_copy(update={"plus_minus": 2.0 / np.sqrt(2)})
    once = stern([other for other in ALL if other != pair])
    once = once.model_copy(update={"tapes": (*once.tapes, better)})
    assert spreads(twice) == pytest.approx(spreads(survey(once)), rel=1e-9)
