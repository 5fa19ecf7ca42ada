"""An open job: nothing confirmed is lost, and every step can be taken back."""

import shutil
from functools import partial
from importlib.resources import files

import pytest

from soapstone.errors import InputError
from soapstone.exchange.job_edits import with_entry, with_value, without_entry
from soapstone.flow.starting import new_job_text
from soapstone.job.files import read_job
from soapstone.web.desk import Desk
from soapstone.web.shop import Shop


@pytest.fixture
def desk(tmp_path):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return Desk.open(tmp_path / "stern-arch.toml")


def gap(text, wanted):
    return with_value(text, ("keepout", 0, "gap"), wanted)


def test_a_change_is_in_the_file_before_it_counts(desk):
    desk.change(partial(gap, wanted=55), "gap wider")
    assert read_job(desk.path).keepouts[0].gap == 55
    assert desk.now.job.keepouts[0].gap == 55
    assert "# it steers," in desk.path.read_text(), "remarks stay"


def test_steps_are_taken_back_and_done_again(desk):
    before = desk.now.text
    desk.change(partial(gap, wanted=55), "gap wider")
    desk.change(partial(gap, wanted=60), "wider still")
    assert desk.undo() == "wider still"
    assert desk.undo() == "gap wider"
    assert desk.undo() == ""
    assert desk.path.read_text() == before
    assert desk.redo() == "gap wider"
    assert read_job(desk.path).keepouts[0].gap == 55


def test_a_step_taken_back_stands_on_todays_bench(desk):
    desk.change(partial(gap, wanted=55), "gap wider")
    bench = desk.path.with_name("bench.toml")
    bench.write_text(bench.read_text().replace("clr = 115", "clr = 120"))
    for step in (desk.undo, desk.redo):
        assert step() == "gap wider"
        assert desk.now.planned.planned[0].setup.clr == 120


def test_a_change_that_is_no_job_changes_nothing(desk):
    before = desk.path.read_text()
    for edit in (partial(gap, wanted=-5), lambda text: text + "\n[[tube]]\n", lambda _: "= ="):
        with pytest.raises(InputError):
            desk.change(edit, "nonsense")
    assert desk.path.read_text() == before
    assert not desk.past


def test_what_someone_else_wrote_is_taken_over_and_can_be_taken_back(desk):
    mine = desk.now.text
    desk.path.write_text(gap(mine, 70))
    assert desk.look()
    assert desk.now.job.keepouts[0].gap == 70
    assert desk.undo() == "changed in the file itself"
    assert desk.path.read_text() == mine


def test_what_someone_else_writes_while_a_change_is_made_is_not_written_over(desk):
    theirs = with_value(desk.now.text, ("keepout", 1, "gap"), 77)

    def edit(text):
        if text != theirs:
            desk.path.write_text(theirs)  # they save while the change is on its way
        return gap(text, 55)

    desk.change(edit, "gap wider")
    assert [one.gap for one in read_job(desk.path).keepouts[:2]] == [55, 77]
    assert desk.undo() == "gap wider"
    assert desk.path.read_text() == theirs


def test_a_change_gives_up_on_a_file_that_another_program_keeps_writing(desk):
    written = iter(range(60, 100))

    def edit(text):
        desk.path.write_text(with_value(text, ("keepout", 1, "gap"), next(written)))
        return gap(text, 55)

    with pytest.raises(InputError, match="keeps writing"):
        desk.change(edit, "gap wider")
    assert read_job(desk.path).keepouts[0].gap != 55


def test_a_file_broken_from_outside_leaves_open_what_is_open(desk):
    desk.path.write_text("not a job")
    with pytest.raises(InputError):
        desk.look()
    assert desk.now.job.keepouts


def test_entries_come_and_go(desk):
    entry = {"name": "post", "ball": {"at": [1.0, 2.0, 3.0], "diameter": 40.0}}
    desk.change(partial(with_entry, table="keepout", entry=entry), "a post")
    assert desk.now.job.keepouts[-1].name == "post"
    last = len(desk.now.job.keepouts) - 1
    desk.change(partial(without_entry, table="keepout", number=last), "no post")
    assert all(one.name != "post" for one in desk.now.job.keepouts)


@pytest.mark.parametrize(
    "name",
    ["../x", "/etc/passwd", "..", "", ".hidden", "a/b", "a\\b", "con", "x\0", "a" * 200, "a:b"],
)
def test_names_that_lead_elsewhere_are_refused(tmp_path, name):
    with pytest.raises(InputError):
        Shop(tmp_path).path(name)


def test_a_link_out_of_the_folder_is_no_job(tmp_path):
    (tmp_path / "shop").mkdir()
    (tmp_path / "secret.toml").write_text('units = "mm"\n[[tube]]\nname = "x"\n')
    (tmp_path / "shop" / "link.toml").symlink_to(tmp_path / "secret.toml")
    shop = Shop(tmp_path / "shop")
    assert shop.jobs() == ()
    with pytest.raises(InputError):
        shop.path("link")


def test_new_jobs_never_take_the_place_of_others(tmp_path):
    shop = Shop(tmp_path)
    text = 'units = "mm"\n[[tube]]\nname = "x"\n'
    names = [shop.add("../stern: arch?", text) for _ in range(3)]
    assert len(set(names)) == 3
    assert {job.name for job in shop.jobs()} == set(names)
    assert all(path.parent == tmp_path for path in tmp_path.iterdir())


def test_a_name_that_a_system_keeps_for_itself_is_got_round(tmp_path):
    shop = Shop(tmp_path)
    assert shop.path(shop.add("con", "[[tube]]")).is_file()


def test_a_job_called_like_a_path_stands_on_the_bench_of_its_own_folder(tmp_path):
    shutil.copy(files("soapstone.demo") / "bench.toml", tmp_path / "bench.toml")
    shutil.copy(files("soapstone.demo") / "trials-38.csv", tmp_path / "trials-38.csv")
    shop = Shop(tmp_path)
    text = new_job_text(tmp_path, "../../port/aft", "mm", "straight", {})
    job = read_job(shop.path(shop.add("../../port/aft", text)))
    assert (job.name, job.bench) == ("../../port/aft", "bench.toml")


def test_a_change_of_the_bench_is_planned_anew_and_is_no_step_of_the_job(desk):
    stock = desk.now.planned.planned[0].stock
    bench = desk.path.with_name("bench.toml")
    bench.write_text(bench.read_text().replace("clr = 115", "clr = 130"))
    assert desk.look()
    assert desk.now.planned.planned[0].stock != stock
    assert not desk.past
    assert not desk.look()
