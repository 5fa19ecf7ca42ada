"""What holds a job and what it carries, put down without opening its file."""

import shutil
from functools import partial
from importlib.resources import files

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.spatial.distance import cdist

from soapstone.flow import plan_job
from soapstone.flow.holding import WELDED, meeting, with_support, with_weight, with_weld
from soapstone.flow.strength import strength_of
from soapstone.geometry.along import places_at
from soapstone.geometry.measure import length
from tests.truth.centrelines import random_centrelines

FRAME = """units = "{units}"
bench = "bench.toml"
[[tube]]
name = "hoop"
tubing = "316 38.1x1.65"
die = "38 on 115"
points = [["0 mm", "0 mm", "0 mm"], ["0 mm", "0 mm", "800 mm"], ["900 mm", "0 mm", "800 mm"],
  ["900 mm", "0 mm", "0 mm"]]
[[tube]]
name = "rail"
tubing = "316 38.1x1.65"
die = "38 on 115"
points = [["0 mm", "20 mm", "400 mm"], ["900 mm", "20 mm", "400 mm"]]
"""


@pytest.fixture(params=["mm", "in"])
def frame(request, tmp_path):
    """A hoop with a rail across it, beside it by half a diameter, welded at both ends."""
    for name in ("bench.toml", "trials-38.csv"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    job = tmp_path / "frame.toml"
    job.write_text(FRAME.format(units=request.param))
    for where in ("its A end", "its B end"):
        planned = plan_job(job)
        change(job, partial(with_weld, planned=planned, one="rail", other="hoop", where=where))
    return job


def change(job, edit):
    job.write_text(edit(job.read_text()))
    return plan_job(job)


def held(job):
    for end in ("A", "B"):
        planned = plan_job(job)
        change(job, partial(with_support, job=planned.job, tube="hoop", end=end, fix="all"))
    return plan_job(job)


def test_a_frame_held_and_loaded_from_words_carries_what_was_hung_on_it(frame):
    planned = held(frame)
    hang = partial(with_weight, planned=planned, tube="hoop", where="its middle", mass="20 kg")
    planned = change(frame, partial(hang, times=3.0, case="slam"))
    (case,) = strength_of(planned, 1.5).cases
    assert sum(foot.force[2] for foot in case.supports) == pytest.approx(20 * 3 * 9.80665)
    assert planned.job.loads[0].at == pytest.approx((450, 0, 800))


def test_an_end_is_held_once(frame):
    planned = held(frame)
    again = partial(with_support, job=planned.job, tube="hoop", end="B", fix="pinned")
    supports = change(frame, again).job.supports
    assert [(one.at, len(one.fix)) for one in supports] == [("A", 6), ("B", 3)]


def test_tubes_are_welded_where_they_come_nearest(frame):
    weld = partial(with_weld, one="rail", other="hoop", where="where they are nearest")
    joints = change(frame, partial(weld, planned=plan_job(frame))).job.joints
    assert joints[0].at == pytest.approx((0, 20, 400))
    assert joints[1].at == pytest.approx((900, 20, 400))
    assert joints[2].at[1:] == pytest.approx((10, 400), abs=1e-3), "half-way between them"


@pytest.mark.parametrize(
    ("mass", "times", "said"),
    [
        ("heavy", 1.0, "a mass"),
        ("0 kg", 1.0, "above 0"),
        ("-3 kg", 1, "a"),
        ("2 kg", -1.0, "times"),
    ],
)
def test_what_is_no_weight_is_refused(frame, mass, times, said):
    hang = partial(with_weight, tube="hoop", where="its middle", case="")
    with pytest.raises(ValueError, match=said):
        hang(frame.read_text(), plan_job(frame), mass=mass, times=times)


def test_tubes_that_do_not_meet_are_not_welded(frame):
    frame.write_text(frame.read_text().replace("20 mm", "600 mm"))
    planned = plan_job(frame)
    for where in WELDED:
        for other, said in (("hoop", "no weld"), ("rail", "two tubes")):
            with pytest.raises(ValueError, match=said):
                with_weld(frame.read_text(), planned, "rail", other, where)


@pytest.mark.parametrize("seed", [1, 3, 4])
def test_the_place_where_two_tubes_meet_is_the_nearest_there_is(seed):
    """Against a general optimiser (scipy's Nelder-Mead) from the nearest of places 25 mm apart."""
    one, other = random_centrelines(seed, 2)
    _, apart = meeting(one, other)

    def gap(at):
        here, _ = places_at(one, np.clip(at[:1], 0, length(one)))
        there, _ = places_at(other, np.clip(at[1:], 0, length(other)))
        return float(np.linalg.norm(here - there))

    alongs = [np.arange(0, length(line), 25.0) for line in (one, other)]
    far = cdist(places_at(one, alongs[0])[0], places_at(other, alongs[1])[0])
    i, j = np.unravel_index(far.argmin(), far.shape)
    start = [alongs[0][i], alongs[1][j]]
    found = minimize(gap, start, method="Nelder-Mead", options={"xatol": 1e-6, "fatol": 1e-9})
    assert apart <= found.fun + 1e-3
