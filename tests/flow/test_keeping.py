"""The bench kept up from pages: figures and trial bends put in, remarks and all else untouched."""

import difflib
import shutil
from importlib.resources import files

import pytest

from soapstone.bench.files import read_bench
from soapstone.errors import InputError
from soapstone.flow.keeping import add_bend, change_bench, figures_edit
from soapstone.flow.showing import show_bench, trial_bends

TUBING = "316 25.4x1.65"


@pytest.fixture
def bench(tmp_path):
    for name in ("bench.toml", "trials-38.csv"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return tmp_path / "bench.toml"


def changed_lines(before, after):
    lines = difflib.ndiff(before.splitlines(), after.splitlines())
    return [line for line in lines if line[:2] in ("- ", "+ ")]


def test_figures_are_put_right_where_they_stand_and_remarks_stay(bench):
    before = bench.read_text()
    change_bench(bench, figures_edit("die", "38 on 115", {"clamp": "2 1/2 in"}))
    change_bench(bench, figures_edit("bender", "", {"stroke": "50"}))
    change_bench(bench, figures_edit("", "", {"tolerance": "0.4"}))
    read = read_bench(bench)
    assert read.die("38 on 115").clamp == pytest.approx(63.5)
    assert (read.bender.stroke, read.tolerance) == (50, 0.4)
    assert len(changed_lines(before, bench.read_text())) == 6
    assert "# straight the clamp holds, ahead of a bend" in bench.read_text()


def test_a_new_figure_stands_in_its_own_table_not_below_the_remark_about_the_next(bench):
    change_bench(bench, figures_edit("tubing", TUBING, {"price": "", "sticks": "20 ft, 3000"}))
    assert read_bench(bench).tubing(TUBING).price is None
    change_bench(bench, figures_edit("tubing", TUBING, {"price": "9.8"}))
    tubing = read_bench(bench).tubing(TUBING)
    assert tubing.price == 9.8
    assert tubing.sticks == pytest.approx((6096, 3000))
    text = bench.read_text()
    assert text.index("price = 9.8") < text.index("# Trial bends:")


@pytest.mark.parametrize(
    ("key", "typed"),
    [
        ("wall", "nan"),
        ("wall", "-3"),
        ("wall", "40"),
        ("od", 'a"b'),
        ("price", "1e400"),
        ("sticks", "6 m, none"),
        ("seam", "perhaps"),
        ("material", "unobtainium"),
    ],
)
def test_nonsense_is_one_line_that_names_the_figure_and_nothing_is_written(bench, key, typed):
    before = bench.read_text()
    with pytest.raises(InputError) as fault:
        change_bench(bench, figures_edit("tubing", TUBING, {key: typed}))
    assert key in str(fault.value)
    assert "\n" not in str(fault.value)
    assert bench.read_text() == before


def test_a_trial_bend_joins_the_row_of_its_lot_and_teaches_the_dial(bench):
    known = next(one for one in show_bench(bench).pairings if one.tubing.name == TUBING)
    add_bend(bench, "25 on 75", TUBING, "62", "59.2", "heat 3")
    add_bend(bench, "25 on 75", TUBING, "31°", "29", "heat 4", "2026-03-01")
    text = bench.read_text()
    assert "[92.5, 88.9], [62.0, 59.2]]" in text
    assert 'lot = "heat 4"' in text
    after = next(one for one in show_bench(bench).pairings if one.tubing.name == TUBING)
    assert after.calibration.trials == known.calibration.trials + 2
    bends = trial_bends(read_bench(bench), after.die, after.tubing)
    assert (62.0, 59.2) in [(one.dial, one.angle) for one in bends]


@pytest.mark.parametrize(
    ("dial", "angle", "said"),
    [
        ("30", "60", "springs back"),
        ("x", "30", "dial"),
        ("30", "", "angle"),
        ("900", "30", "dial"),
        ("30", "0", "angle"),
        ("nan", "30", "dial"),
    ],
)
def test_a_trial_bend_that_cannot_be_is_refused(bench, dial, angle, said):
    before = bench.read_text()
    with pytest.raises(InputError, match=said):
        add_bend(bench, "25 on 75", TUBING, dial, angle)
    assert bench.read_text() == before


def test_lots_from_before_the_metal_changed_do_not_count(bench):
    for dial, angle in (("35", "29"), ("70", "58"), ("105", "87")):
        add_bend(bench, "25 on 75", TUBING, dial, angle, "heat 9")
    pairing = next(one for one in show_bench(bench).pairings if one.tubing.name == TUBING)
    bends = trial_bends(read_bench(bench), pairing.die, pairing.tubing)
    assert {one.lot for one in bends if one.counts} == {"heat 9"}
    assert {one.lot for one in bends if not one.counts} == {"heat 3"}
