"""The sticks for several jobs: everything is cut, nothing overlaps, and what is said adds up."""

import shutil
from importlib.resources import files

import pytest

from soapstone.errors import InputError
from soapstone.flow import plan_job
from soapstone.flow.sawing import Wanted, saw_jobs, unplanned

KERF = 2.0


@pytest.fixture(scope="module")
def arch(tmp_path_factory):
    folder = tmp_path_factory.mktemp("yard")
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, folder / name)
    return plan_job(folder / "stern-arch.toml")


def test_every_piece_of_every_job_is_cut_once(arch):
    cuts = saw_jobs([Wanted(arch, 3), Wanted(arch, 1)], KERF)
    made = [
        length for cut in cuts for stick in cut.sticks for _, length in stick.pieces * stick.count
    ]
    assert sorted(made) == sorted([tube.stock_tape for tube in arch.planned] * 4)


def test_marks_leave_each_piece_its_length_and_the_saw_its_kerf(arch):
    for cut in saw_jobs([Wanted(arch, 4)], KERF):
        for stick in cut.sticks:
            begin = 0.0
            for (_, length), mark in zip(stick.pieces, stick.marks, strict=True):
                assert mark - begin == pytest.approx(length)
                begin = mark + KERF
            assert stick.marks[-1] <= stick.length + 1e-6
            assert stick.offcut == pytest.approx(max(0.0, stick.length - begin), abs=1e-5)


def test_the_cost_is_what_the_sticks_cost_and_no_less_than_the_bound(arch):
    cut = saw_jobs([Wanted(arch, 4)], KERF)[0]
    assert cut.priced
    bought = sum(stick.length * stick.count for stick in cut.sticks)
    assert cut.cut.nest.cost == pytest.approx(bought * 14.80 / 1000)
    assert cut.cut.nest.least_cost <= cut.cut.nest.cost + 1e-9


def test_tubing_without_sticks_or_too_short_ones_is_told_and_the_rest_is_cut(arch):
    def with_sticks(sticks):
        tubings = [
            one.model_copy(update={"sticks": sticks}) if one.od < 30 else one
            for one in arch.bench.tubings
        ]
        from soapstone.flow import plan

        return plan(arch.job, arch.bench.model_copy(update={"tubings": tuple(tubings)}))

    for sticks, said in (((), "lengths it is bought in"), ((900.0,), "longer than the longest")):
        thick, thin = saw_jobs([Wanted(with_sticks(sticks), 1)], KERF)
        assert thick.cut is not None
        assert thin.cut is None
        assert said in str(thin.findings[0])
    assert unplanned([Wanted(arch, 1)]) == ()


def test_a_kerf_or_a_number_of_jobs_that_cannot_be_is_refused(arch):
    for kerf in (-1.0, float("nan"), 1e9):
        with pytest.raises(InputError, match="kerf"):
            saw_jobs([Wanted(arch, 1)], kerf)
    with pytest.raises(InputError, match="times"):
        saw_jobs([Wanted(arch, 0)], KERF)


def test_what_lies_in_the_shop_is_sawn_first_and_costs_nothing(arch):
    before = saw_jobs([Wanted(arch, 1)], KERF)[1]
    after = saw_jobs([Wanted(arch, 1)], KERF, [(before.tubing, 1300.0), (before.tubing, 1300.0)])[1]
    assert (before.bought, after.bought) == (1, 0)
    assert after.cut.nest.cost == 0
    assert {one.source for one in after.sticks} == {"remnant"}
