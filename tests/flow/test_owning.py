"""Dies and tubing added, copied, renamed and taken off a bench; nothing else of its file moves."""

import difflib
import shutil
import tomllib
from importlib.resources import files

import pytest

from soapstone.bench.files import read_bench, starter_text
from soapstone.errors import InputError
from soapstone.flow.keeping import change_bench
from soapstone.flow.owning import (
    added,
    jobs_on,
    leaving,
    lost,
    put_right,
    renamed_in,
    taken_away,
)
from soapstone.flow.showing import show_bench
from soapstone.job.files import read_job

DIE, TUBING = "38 on 115", "316 38.1x1.65"


@pytest.fixture
def bench(tmp_path):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return tmp_path / "bench.toml"


@pytest.fixture
def inch_bench(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(starter_text("in"))
    return path


def line_changes(before, after):
    lines = list(difflib.ndiff(before.splitlines(), after.splitlines()))
    return [x[2:] for x in lines if x[:2] == "- "], [x[2:] for x in lines if x[:2] == "+ "]


def test_a_new_die_stands_below_the_others_and_nothing_else_moves(bench):
    before = bench.read_text()
    typed = {"name": "44 on 150", "od": "1 3/4 in", "clr": "150", "clamp": "70 mm", "follower": ""}
    change_bench(bench, added("die", typed))
    die = read_bench(bench).die("44 on 150")
    assert (die.od, die.clr, die.clamp, die.follower) == pytest.approx((44.45, 150, 70, 0))
    gone, new = line_changes(before, bench.read_text())
    assert not gone
    wanted = ["[[die]]", 'name = "44 on 150"', 'od = "1 3/4 in"', "clr = 150", 'clamp = "70 mm"']
    assert [line for line in new if line] == wanted
    assert [one.name for one in read_bench(bench).dies] == [DIE, "25 on 75", "44 on 150"]


def test_one_like_another_takes_its_figures_as_written_and_its_remarks(inch_bench):
    before = inch_bench.read_text()
    edit = added("tubing", {"name": "304 1 1/2 x .083", "wall": "2.11 mm"}, "304 1 1/2 x .065")
    change_bench(inch_bench, edit)
    tubing = read_bench(inch_bench).tubing("304 1 1/2 x .083")
    assert (tubing.od, tubing.wall) == pytest.approx((38.1, 2.11))
    assert tubing.sticks == pytest.approx((6096, 3048))
    gone, new = line_changes(before, inch_bench.read_text())
    assert not gone
    assert 'sticks = ["20 ft", "10 ft"]' in new
    text = inch_bench.read_text()
    assert text.index("304 1 1/2 x .083") < text.index("# A material of your own")


def test_a_copy_keeps_what_the_page_has_no_field_for(bench):
    change_bench(bench, added("die", {"name": "38 on 152", "clr": "152"}, DIE))
    copied = bench.read_text().partition('"38 on 152"')[2]
    assert "# straight the clamp holds, ahead of a bend" in copied
    assert read_bench(bench).die("38 on 152").mark_offset == 12


@pytest.mark.parametrize("units", ["mm", "in"])
def test_what_is_added_and_taken_away_again_leaves_no_trace(tmp_path, units):
    path, before = tmp_path / "bench.toml", starter_text(units)
    path.write_text(before)
    for kind, like in (("die", read_bench(path).dies[3]), ("tubing", read_bench(path).tubings[-1])):
        change_bench(path, added(kind, {"name": "one more"}, like.name))
        change_bench(path, taken_away(kind, "one more"))
        assert path.read_text() == before


@pytest.mark.parametrize(
    ("kind", "typed", "said"),
    [
        ("die", {"name": "", "od": "38.1", "clr": "115"}, "give the die a name"),
        ("die", {"name": " \t", "od": "38.1", "clr": "115"}, "give the die a name"),
        ("die", {"name": "38 ON  115 ", "od": "38.1", "clr": "150"}, '"38 on 115" already'),
        ("tubing", {"name": TUBING, "od": "38.1"}, "already"),
        ("die", {"name": "x" * 81, "od": "38.1", "clr": "115"}, "1 to 80 characters"),
        ("die", {"name": "a\nb", "od": "38.1", "clr": "115"}, "on one line"),
        ("die", {"name": "new", "od": "", "clr": ""}, "od: missing"),
        ("die", {"name": "new", "od": "38.1", "clr": "nan"}, "clr"),
        ("die", {"name": "new", "od": "38.1", "clr": "-4 in"}, "clr"),
        ("die", {"name": "new", "od": "38.1", "clr": "12"}, "above half the outside"),
        ("tubing", {"name": "new", "od": "1e9", "wall": "2", "material": "304"}, "od"),
        ("tubing", {"name": "new", "od": "38.1", "wall": "2", "material": "cheese"}, "cheese"),
    ],
)
def test_what_cannot_be_is_one_clear_line_and_nothing_is_written(bench, kind, typed, said):
    before = bench.read_text()
    with pytest.raises(InputError, match=said) as fault:
        change_bench(bench, added(kind, typed))
    assert "\n" not in str(fault.value)
    assert bench.read_text() == before


@pytest.mark.parametrize("name", ['say "38"', "a # b", "[[die]]", "C:\\dies", "ø 38 × 115", "38"])
def test_any_name_on_one_line_will_do(bench, name):
    change_bench(bench, added("die", {"name": name, "od": "38.1", "clr": "115"}))
    assert read_bench(bench).die(name).clr == 115
    change_bench(bench, put_right("die", name, {"name": f"{name} 2", "clr": "116"}))
    change_bench(bench, taken_away("die", f"{name} 2"))
    assert [one.name for one in read_bench(bench).dies] == [DIE, "25 on 75"]


def test_a_die_taken_away_leaves_its_trial_bends_as_remarks_and_their_files(bench):
    before, bends = bench.read_text(), (bench.parent / "trials-38.csv").read_text()
    told = leaving(bench, "die", DIE, [bench.parent / "stern-arch.toml"])
    assert (told.files, told.trials, told.last) == (("trials-38.csv",), 0, False)
    assert [name for name, _ in told.jobs] == ["Stern arch"]
    change_bench(bench, taken_away("die", DIE))
    text = bench.read_text()
    assert [one.name for one in read_bench(bench).dies] == ["25 on 75"]
    assert "# Trial bends: the dial reading at the stop" in text
    assert '# file = "trials-38.csv"' in text
    assert (bench.parent / "trials-38.csv").read_text() == bends
    # nothing that is left on the bench asks for it
    assert not [one for one in show_bench(bench).findings if DIE in str(one)]
    # and the remarks are the trial bends to the letter
    kept = [line.removeprefix("# ") for line in text.splitlines() if line.startswith("# ")]
    row = "\n".join(kept[kept.index("[[trial]]") :])
    assert tomllib.loads(row)["trial"] == tomllib.loads(before)["trial"][:1]


def test_the_last_die_and_the_last_tubing_can_go_and_come_back(bench):
    before = bench.read_text()
    for name in (DIE, "25 on 75"):
        change_bench(bench, taken_away("die", name))
    assert leaving(bench, "tubing", TUBING).last is False
    for name in (TUBING, "316 25.4x1.65"):
        change_bench(bench, taken_away("tubing", name))
    read = read_bench(bench)
    assert (read.dies, read.tubings, read.trials) == ((), (), ())
    assert {"note"} == {one.severity for one in show_bench(bench).findings}
    assert "# What the work costs" in bench.read_text()
    change_bench(bench, added("die", {"name": "first", "od": "2", "clr": "6"}))
    assert read_bench(bench).die("first").clr == 6
    change_bench(bench, lambda _: before)
    assert bench.read_text() == before


def test_another_name_goes_along_to_the_trial_bends_and_to_the_jobs(bench):
    job = bench.parent / "stern-arch.toml"
    known = next(one for one in show_bench(bench).pairings if one.die.name == DIE).calibration
    before = read_bench(bench)
    change_bench(bench, put_right("die", DIE, {"name": "big die", "clamp": "65"}))
    after = next(one for one in show_bench(bench).pairings if one.die.name == "big die")
    assert after.calibration == known
    assert after.die.clamp == 65
    assert lost(before, read_bench(bench), [read_job(job)])
    edits = renamed_in(jobs_on(bench, [job]), "die", DIE, "big die")
    assert list(edits) == [job]
    job.write_text(edits[job](job.read_text()))
    assert not lost(before, read_bench(bench), [read_job(job)])


def test_a_second_die_of_a_size_is_told_where_a_job_leaves_open_which(bench):
    job = bench.parent / "open.toml"
    job.write_text(
        'name = "Left open"\nunits = "mm"\nbench = "bench.toml"\n[[tube]]\nname = "hoop"\n'
        f'tubing = "{TUBING}"\npoints = [[0, 0, 0], [0, 0, 500], [0, 600, 500]]\n'
    )
    before = read_bench(bench)
    change_bench(bench, added("die", {"name": "38 on 152", "clr": "152"}, DIE))
    said = lost(before, read_bench(bench), jobs_on(bench, [job, bench, bench.parent / "none.toml"]))
    assert said == ("Left open: hoop no longer finds its die",)


@pytest.mark.parametrize(
    ("units", "typed", "read"), [("mm", "1 1/2", 1.5), ("in", "38.1", 967.74), ("in", "1 1/2", 0)]
)
def test_a_diameter_typed_in_the_other_unit_is_doubted(tmp_path, units, typed, read):
    path = tmp_path / "bench.toml"
    path.write_text(starter_text(units))
    change_bench(path, added("die", {"name": "new", "od": typed, "clr": "99 in"}))
    doubts = [one for one in show_bench(path).findings if one.where == 'die "new".od']
    assert len(doubts) == bool(read)
    assert not read or read_bench(path).die("new").od == pytest.approx(read)


def test_a_list_written_in_another_way_is_left_alone(bench):
    dies = '{ name = "a", od = 20, clr = 60 }, { name = "b", od = 20, clr = 80 }'
    bench.write_text(f'units = "mm"\ndie = [{dies}]\n')
    before = bench.read_text()
    for edit in (taken_away("die", "a"), added("die", {"name": "c", "clr": "90"}, "a")):
        with pytest.raises(InputError, match="text editor"):
            change_bench(bench, edit)
    assert bench.read_text() == before
