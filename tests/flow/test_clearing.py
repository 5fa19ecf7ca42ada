"""A plan's order is one in which nothing is hit; else it says what is hit, and the cure."""

import pytest

from soapstone.flow import plan_job
from soapstone.flow.bending import bend_job
from tests.cli.running import is_clean, soapstone

BENCH = """
format = 1
units = "mm"
[bender]
name = "invented"
plane = "{plane}"
swing = "{swing}"
die_height = {height}
max_angle = 190
[[die]]
name = "d"
od = 25.4
clr = 90
clamp = 60
follower = 40
springback = 0.02
[[tubing]]
name = "t"
od = 25.4
wall = 1.65
material = "304"
sticks = [6000]
"""
HEAD = 'format = 1\nname = "j"\nunits = "mm"\nbench = "bench.toml"\n'
LONG_B = "bends = { legs = [300, 300, 1000], angles = [90, 90], rotations = [0, 90] }\n"
TWIN = 'mirror = { of = "own", across = "xz" }\n'


def tube(name, shape, more=""):
    return f'[[tube]]\nname = "{name}"\ntubing = "t"\ndie = "d"\n{more}\n{shape}'


@pytest.fixture
def job(tmp_path):
    def write(*tubes, height=900, plane="horizontal", swing="left", bodies=""):
        text = BENCH.format(height=height, plane=plane, swing=swing)
        (tmp_path / "bench.toml").write_text(text + bodies)
        file = tmp_path / "job.toml"
        file.write_text(HEAD + "".join(tubes))
        return file

    return write


def hits(plan):
    return [str(finding) for finding in plan.problems if "hits" in finding.what]


def test_both_hands_get_one_order_that_is_free_for_both(job):
    shape = LONG_B.replace("[300, 300, 1000]", "[900, 300, 300]")
    bound = tube("own", shape, "order = [1, 2]\n")
    there = {hand: plan_job(job(bound, tube("twin", TWIN), height=600)) for hand in "x"}["x"]
    assert any(hits(plan) for plan in there.planned)  # one hand hits the floor in turn from A
    planned = plan_job(job(tube("own", shape), tube("twin", TWIN), height=600))
    own, twin = planned.planned
    assert own.order == twin.order
    assert own.order != there.planned[0].order
    assert not hits(own)
    assert not hits(twin)
    assert [step.mark for step in own.bends] == [step.mark for step in twin.bends]


def test_a_fixed_order_stays_and_what_it_hits_is_said_with_one_that_is_free(job):
    shape = LONG_B.replace("[300, 300, 1000]", "[900, 300, 300]")
    file = job(tube("own", shape, "order = [1, 2]\n"), tube("twin", TWIN), height=600)
    planned = plan_job(file)
    assert [[step.n for step in plan.bends] for plan in planned.planned] == [[1, 2], [1, 2]]
    said = [line for plan in planned.planned for line in hits(plan)]
    assert said
    assert all("hits the floor" in line and "leave out order and lead" in line for line in said)
    assert soapstone("bending", file).code == 1


def test_where_no_order_is_free_a_higher_die_is_named_and_does(job):
    shape = "bends = { legs = [800, 300, 800], angles = [90, 90], rotations = [0, 90] }\n"
    own, down = tube("own", shape), {"plane": "vertical", "swing": "down"}
    said = hits(plan_job(job(own, height=500, **down)).planned[0])
    assert said
    assert all("the lead end swings up" in line for line in said)
    height = float(said[0].split("put the die ")[1].split(" mm")[0])
    assert not hits(plan_job(job(own, height=height, **down)).planned[0])
    assert hits(plan_job(job(own, height=height - 50, **down)).planned[0])
    assert not hits(plan_job(job(own, height=500, plane="vertical", swing="up")).planned[0])


def test_a_tube_is_rolled_the_way_round_that_is_free_and_told_so(job):
    shape = "bends = { legs = [400, 343, 343], angles = [90, 90], rotations = [0, 120] }\n"
    post = '[[bender.body]]\nname = "post"\nbox = { at = [-400, 0, 250], size = [80, 80, 80] }\n'
    free, met = (
        plan_job(job(tube("own", shape, "order = [1, 2]\n"), bodies=bodies)).planned[0]
        for bodies in ("", post)
    )
    assert free.bends[1].roll == pytest.approx(120)
    assert met.bends[1].roll == pytest.approx(-240)
    assert not hits(met)
    assert any("the short way round" in finding.what for finding in met.problems)
    told = soapstone("plan", job(tube("own", shape, "order = [1, 2]\n"), bodies=post))
    assert "240° anticlockwise" in " ".join(told.out.split())


def test_a_leg_made_longer_by_what_is_named_does_and_no_less(job):
    def planned(leg):
        bends = f"legs = [300, {leg}, 300], angles = [120, 120], rotations = [0, 0]"
        return plan_job(job(tube("own", f"bends = {{ {bends} }}\n"))).planned[0]

    said = hits(planned(95))
    assert said
    assert all("welded or sleeved in leg 2" in line for line in said)
    longer = float(said[0].split("make leg 2 ")[1].split(" mm")[0])
    assert not hits(planned(95 + longer))
    assert hits(planned(95 + longer - 15))


@pytest.mark.parametrize(
    ("plane", "swing"),
    [("horizontal", "left"), ("horizontal", "right"), ("vertical", "up"), ("vertical", "down")],
)
@pytest.mark.parametrize(
    "shape",
    [
        "points = [[0, 0, 0], [0, 0, 900]]\n",
        "bends = { legs = [300, 400], angles = [60], rotations = [0] }\n",
        "bends = { legs = [300, 400], angles = [180], rotations = [0] }\n",
        LONG_B,
    ],
)
def test_any_bender_takes_any_tube(job, plane, swing, shape):
    file = job(tube("own", shape), plane=plane, swing=swing, height=1500)
    told = soapstone("bending", file, "--json")
    assert is_clean(told)
    assert told.json["sound"] == (told.code == 0)
    for step in told.json["tubes"][0]["steps"]:
        assert step["nearest"]["gap"] == min(near["gap"] for near in step["nears"])


def test_twelve_bends_are_planned_and_held_against_the_bender(job):
    angles, rotations = ", ".join(["15"] * 12), ", ".join(["0", *["180"] * 11])
    legs = ", ".join(["150"] * 13)
    shape = f"bends = {{ legs = [{legs}], angles = [{angles}], rotations = [{rotations}] }}\n"
    bent = bend_job(job(tube("own", shape)))
    assert len(bent.tubes[0].steps) == 12
    assert bent.sound


def test_inches_are_said_in_inches(job):
    shape = LONG_B.replace("[300, 300, 1000]", "[12, 12, 40]")
    file = job(tube("own", shape), height=200, plane="vertical", swing="down")
    file.write_text(file.read_text().replace('units = "mm"', 'units = "in"'))
    told = soapstone("bending", file)
    assert told.code == 1
    assert is_clean(told)
    assert "hit, " in told.out
    assert "mm" not in told.out
