"""The bench that lies open: what belongs to a change is changed with it, and taken back with it."""

import shutil
from functools import partial
from importlib.resources import files

import pytest

from soapstone.bench.files import read_bench
from soapstone.errors import InputError
from soapstone.flow.keeping import add_bend, change_bench
from soapstone.flow.owning import added, bare_text, leaving, named_elsewhere, put_right
from soapstone.flow.planning import plan_job
from soapstone.log.store import LoggedTrial, Stick, open_log
from soapstone.web.bench_cards import new_card, shelves_of
from soapstone.web.bench_desk import Benches
from soapstone.web.panels.bench_shelves import going_words
from soapstone.web.shop import Shop

DIE, TUBING = "38 on 115", "316 38.1x1.65"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    monkeypatch.setenv("SOAPSTONE_LOG", str(tmp_path / "log.sqlite"))
    return tmp_path


def rename(desk, new):
    beside = named_elsewhere(desk.path, "die", DIE, new, desk.jobs())
    act = partial(change_bench, edit=put_right("die", DIE, {"name": new}))
    return desk.change(act, f"{DIE} is called {new}", beside)


def test_a_job_follows_the_name_of_its_die_there_and_back(folder):
    bench, job = folder / "bench.toml", folder / "stern-arch.toml"
    before, marks = (bench.read_text(), job.read_text()), plan_job(job).planned[0].bends
    desk = Benches(Shop(folder)).open()
    assert rename(desk, "big die") == ()
    after = plan_job(job).planned[0]
    assert (after.setup.die, after.bends) == ("big die", marks)
    assert desk.undo() == f"{DIE} is called big die"
    assert (bench.read_text(), job.read_text()) == before


def test_nothing_is_taken_back_over_what_was_changed_elsewhere(folder):
    job = folder / "stern-arch.toml"
    desk = Benches(Shop(folder)).open()
    rename(desk, "big die")
    job.write_text(job.read_text() + "# mine\n")
    with pytest.raises(InputError, match="changed in another program"):
        desk.undo()
    assert read_bench(folder / "bench.toml").die("big die")
    assert job.read_text().endswith("# mine\n")


def test_a_die_whose_bends_the_log_holds_keeps_its_name(folder):
    before = (folder / "bench.toml").read_text()
    with open_log(folder / "log.sqlite") as log:
        log.add_trial(LoggedTrial("run 1:1", DIE, TUBING, "heat 7", "2026-02-03", 93.4, 90.0))
    desk = Benches(Shop(folder)).open()
    with pytest.raises(InputError, match='a bend under "38 on 115"'):
        rename(desk, "big die")
    assert (folder / "bench.toml").read_text() == before


def test_tubing_that_lies_in_the_yard_keeps_its_name_and_is_named_when_it_goes(folder):
    desk = Benches(Shop(folder)).open()
    with open_log(folder / "log.sqlite") as log:
        log.add_sticks([Stick("1", TUBING, "heat 7", "2026-02-03", 6096.0, "stick")])
    with pytest.raises(InputError, match="a stick of"):
        named_elsewhere(desk.path, "tubing", TUBING, "other", desk.jobs())
    said = list(going_words("tubing", leaving(desk.path, "tubing", TUBING)))
    assert "The yard holds a stick of it." in said


def test_prices_are_typed_by_the_foot_in_a_shop_of_inches(tmp_path):
    path = tmp_path / "bench.toml"
    path.write_text(bare_text("in"))
    assert (read_bench(path).dies, read_bench(path).tubings) == ((), ())
    card = new_card(read_bench(path), "tubing")
    typed = {"name": "tube", "od": "1 1/2", "wall": ".065", "material": "304"}
    typed = card.meant(typed | {"price_of_a_foot": "3.84"})
    change_bench(path, added("tubing", typed))
    assert read_bench(path).tubing("tube").price == pytest.approx(3.84 / 0.3048, abs=1e-6)
    shown = next(one for one in shelves_of(read_bench(path)) if one.kind == "tubing").cards[0]
    assert ("Price of a foot", "3.84") in shown.facts
    assert ("Price of a foot", "3.84") in [(one.label, one.value) for one in shown.fields]
    for wrong in ("nan", "-1", "cheap"):
        edit = put_right("tubing", "tube", card.meant({"price_of_a_foot": wrong}))
        with pytest.raises(InputError, match="price"):
            change_bench(path, edit)


def test_a_change_says_which_job_has_lost_its_die(folder):
    desk = Benches(Shop(folder)).open()
    act = partial(change_bench, edit=put_right("die", DIE, {"od": "50"}))
    assert desk.change(act, "of another size") == ()  # a job that names its die has it still
    act = partial(change_bench, edit=put_right("tubing", TUBING, {"name": "other"}))
    (line,) = desk.change(act, "called other")
    assert line.startswith("Stern arch: ")
    assert "no longer finds its tubing" in line


def test_what_goes_with_a_die_is_said_before_it_goes(folder):
    bench = folder / "bench.toml"
    said = list(going_words("die", leaving(bench, "die", "25 on 75", Shop(folder).job_paths())))
    assert [line for line in said if "4 trial bends of it" in line]
    assert [line for line in said if line.startswith("Stern arch is made with it (")]
    change_bench(bench, added("die", {"name": "idle", "od": "20", "clr": "60"}))
    (line,) = going_words("die", leaving(bench, "die", "idle", Shop(folder).job_paths()))
    assert line.startswith("No job of this folder")
    add_bend(bench, DIE, TUBING, "93", "89.6")
    told = leaving(bench, "die", DIE)
    assert (told.trials, told.files) == (1, ("trials-38.csv",))
