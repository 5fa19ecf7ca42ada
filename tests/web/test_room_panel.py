"""What is said of the room, and what is changed in it while others change it too."""

import shutil
from importlib.resources import files

import pytest

from soapstone.errors import InputError
from soapstone.exchange.job_edits import with_entry
from soapstone.flow.fitting import check
from soapstone.flow.reshaping import with_keepout_part, with_keepout_value, without_keepout
from soapstone.job.files import read_job
from soapstone.web.desk import Desk
from soapstone.web.panels.clear_or_not import all_clear, clear_words, in_the_way
from soapstone.web.panels.wish_panel import AS_DRAWN, FREE, way_word

ROOM = """
format = 1
name = "Step"
units = "mm"
bench = "bench.toml"

[[tube]]
name = "hoop"
tubing = "316 38.1x1.65"
die = "38 on 115"
gap = 10
points = [[0, 0, 0], [0, 0, 500], [0, 600, 500], [0, 600, 0]]

[[keepout]]
name = "locker"
box = { at = [0, 300, 100], size = [100, 100, 100] }

[[keepout]]
name = "bollard"
ball = { at = ["300", 0, 0], diameter = 100 }
"""


@pytest.fixture
def desk(tmp_path):
    shutil.copy(files("soapstone.demo") / "bench.toml", tmp_path / "bench.toml")
    shutil.copy(files("soapstone.demo") / "trials-38.csv", tmp_path / "trials-38.csv")
    job = tmp_path / "step.toml"
    job.write_text(ROOM)
    return Desk.open(job)


def test_the_one_that_was_meant_is_changed_though_the_list_has_changed(desk):
    desk.change(lambda text: without_keepout(text, "locker"), "locker taken out")
    desk.change(lambda text: with_keepout_value(text, "bollard", ("gap",), 25), "gap")
    values = (300.0, 40.0, 0.0)
    desk.change(lambda text: with_keepout_part(text, "bollard", ("ball", "at"), 1, values), "moved")
    (left,) = read_job(desk.path).keepouts
    assert (left.name, left.gap, left.ball.at) == ("bollard", 25, (300, 40, 0))
    assert '"300"' in desk.path.read_text(), "the others stay as they were written"


def test_one_that_has_gone_is_told_and_nothing_else_is_changed(desk):
    desk.change(lambda text: without_keepout(text, "locker"), "locker taken out")
    before = desk.path.read_text()
    with pytest.raises(InputError, match="locker is not in the room any more"):
        desk.change(lambda text: with_keepout_value(text, "locker", ("gap",), 25), "gap")
    assert desk.path.read_text() == before


def test_it_is_said_whether_a_tube_is_clear(desk):
    (tube,) = check(desk.now.planned).tubes
    near = min(tube.gaps, key=lambda one: one.gap)
    assert in_the_way(tube, "mm") == []
    assert clear_words(tube, "mm").startswith("hoop is clear: ")
    assert near.keepout in clear_words(tube, "mm")
    size = [100, 700, 100]
    desk.change(lambda text: with_keepout_value(text, "locker", ("box", "size"), size), "larger")
    (tube,) = check(desk.now.planned).tubes
    (found,) = in_the_way(tube, "mm")
    assert found.severity == "stop"
    assert "locker" in str(found)


def test_of_many_tubes_it_is_said_first_whether_all_are_clear(desk):
    one = check(desk.now.planned)
    (line,) = all_clear(one)
    assert line.startswith("hoop is clear: ")
    copy = {"name": "second", "tubing": "316 38.1x1.65", "die": "38 on 115"}
    copy |= {"points": [[600, 0, 0], [600, 0, 500], [600, 600, 500]], "gap": 10}
    desk.change(lambda text: with_entry(text, "tube", copy), "another")
    first, *each = all_clear(check(desk.now.planned))
    assert first == "All 2 tubes are clear."
    assert len(each) == 2


@pytest.mark.parametrize(
    ("along", "said"),
    [(None, FREE), ((0, 1e-12, -1.0), "down (-z)"), ((0.0, 0.6, 0.8), AS_DRAWN)],
)
def test_a_direction_along_an_axis_is_called_so_though_reckoned(along, said):
    assert way_word(along) == said
