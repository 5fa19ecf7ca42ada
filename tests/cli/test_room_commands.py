"""Survey, check and route as a user runs them."""

import math
import shutil
from importlib.resources import files

import pytest

from soapstone.bench.files import starter_text
from tests.cli.running import is_clean, soapstone


@pytest.fixture
def arch(tmp_path):
    """The demo's files in a folder of its own."""
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml", "stern-arch-wish.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return tmp_path / "stern-arch.toml"


DOOR = """
units = "mm"
[[keepout]]
name = "door"
box = { at = [500, 100, 700], size = [300, 20, 900] }
gap = 20
hinge = { through = [350, 100, 0], along = [0, 0, 1], from = -70, to = 0 }
[[tube]]
name = "rail"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
points = [[0, 0, 0], [0, 0, 700], [600, 0, 700], [600, 300, 1000]]
"""


def test_the_demo_is_clear_of_all_that_swings(arch):
    done = soapstone("check", arch, "--json")
    assert done.code == 0
    for tube in done.json["tubes"]:
        assert {"name", "clearance", "nearest", "problems"} <= set(tube)
        assert tube["clearance"] == min(gap["gap"] for gap in tube["gaps"])
        assert all(gap["gap"] >= gap["wanted"] - 0.05 for gap in tube["gaps"])


def test_both_hands_of_the_demo_clear_the_outboard_alike(arch):
    tubes = {tube["name"]: tube for tube in soapstone("check", arch, "--json").json["tubes"]}
    gaps = [
        next(gap for gap in tubes[name]["gaps"] if gap["keepout"] == "outboard")
        for name in ("starboard leg", "port leg")
    ]
    assert gaps[0]["gap"] == pytest.approx(gaps[1]["gap"], abs=0.05)
    assert gaps[0]["hinges"][0] == pytest.approx(-gaps[1]["hinges"][0], abs=0.5), "it steers over"


def test_a_clash_somewhere_in_the_swing_is_found_and_named(tmp_path):
    job = tmp_path / "door.toml"
    job.write_text(DOOR)
    done = soapstone("check", job, "--json")
    assert done.code == 1
    rail = done.json["tubes"][0]
    assert rail["nearest"] == "door"
    assert rail["clearance"] < -20
    assert any('hits "door"' in problem["what"] for problem in rail["problems"])
    job.write_text(DOOR.replace("from = -70, to = 0", "from = 150, to = 180"))
    assert soapstone("check", job).code == 0, "swung right back, the door is clear"


def test_a_clash_is_mended_with_both_ends_kept(tmp_path):
    job, out = tmp_path / "door.toml", tmp_path / "mended.toml"
    job.write_text(DOOR)
    done = soapstone("route", job, "--mend", "--out", out, "--json")
    assert done.code == 0
    points = done.json["tubes"][0]["points"]
    assert points[0] == pytest.approx([0, 0, 0])
    assert points[-1] == pytest.approx([600, 300, 1000])
    assert soapstone("check", out).code == 0


def test_the_demos_wish_is_found_again_and_written_with_its_remarks(arch, tmp_path):
    """Fewest bends, clear of everything, the same with the same seed; the image is clear too."""
    wish, out = arch.parent / "stern-arch-wish.toml", tmp_path / "found.toml"
    done = soapstone("route", wish, "--seconds", "20", "--out", out, "--json")
    assert done.code == 0
    (leg,) = done.json["tubes"]
    assert {"name", "found", "points", "bends", "length", "clearance", "seconds"} <= set(leg)
    assert (leg["found"], leg["bends"]) == (True, 4)
    shipped = soapstone("plan", arch, "--json").json["tubes"][0]
    assert leg["length"] <= shipped["length"] * 1.01
    assert "# it steers," in out.read_text()
    assert soapstone("check", out).code == 0


def test_a_route_that_cannot_be_says_why(tmp_path):
    job = tmp_path / "walled.toml"
    job.write_text(
        'units = "mm"\n[[keepout]]\nname = "wall"\n'
        "halfspace = { at = [500, 0, 0], normal = [-1, 0, 0] }\n"
        '[[tube]]\nname = "pipe"\ntubing = "304 38.1x1.65"\ndie = "38.1 on 115"\n'
        "route = { start = { at = [0, 0, 0] }, end = { at = [900, 0, 0] } }\n"
    )
    done = soapstone("route", job, "--seconds", "2", "--json")
    assert done.code == 1
    assert done.json["tubes"][0]["found"] is False
    assert any("wall" in reason for reason in done.json["tubes"][0]["reasons"])


@pytest.mark.parametrize("seconds", ["0", "-1", "nan", "1e9", "x"])
def test_odd_seconds_are_refused(arch, seconds):
    refused = soapstone("route", arch, "--seconds", seconds)
    assert refused.code == 2
    assert is_clean(refused)


SURVEY = """
units = "mm"
plus_minus = 2
[datum]
port = [0, 700, 0]
starboard = [0, -700, 0]
cockpit = [1500, 0, 0]
[[side]]
point = "pivot"
toward = [0, 0, 1]
"""


def survey_of(at, off=0.0):
    known = {"port": (0, 700, 0), "starboard": (0, -700, 0), "cockpit": (1500, 0, 0)}
    rows = "".join(
        f'[[tape]]\nfrom = "{name}"\nto = "pivot"\nlength = {math.dist(place, at) + off}\n'
        for name, place in known.items()
    )
    return SURVEY + rows


def test_a_survey_puts_its_points_into_a_job(tmp_path):
    survey, job = tmp_path / "survey.toml", tmp_path / "job.toml"
    survey.write_text(survey_of((-80, 12, 560)))
    job.write_text("# mine\n" + DOOR)
    done = soapstone("survey", survey, "--into", job, "--json")
    assert done.code == 0
    assert done.json["points"]["pivot"]["at"] == pytest.approx([-80, 12, 560], abs=1e-6)
    assert 0 < done.json["points"]["pivot"]["plus_minus"] < 10
    assert job.read_text().startswith("# mine\n")
    job.write_text(job.read_text().replace("[600, 300, 1000]]", '"pivot"]'))
    assert soapstone("plan", job).code in (0, 1), "the point can be used by its name"


def test_a_survey_that_leaves_a_point_open_changes_no_job(tmp_path):
    survey, job = tmp_path / "survey.toml", tmp_path / "job.toml"
    survey.write_text(SURVEY + '[[tape]]\nfrom = "port"\nto = "pivot"\nlength = 900\n')
    job.write_text(DOOR)
    done = soapstone("survey", survey, "--into", job, "--json")
    assert done.code == 1
    assert job.read_text() == DOOR
    assert done.json["problems"]


@pytest.mark.parametrize("command", ["check", "route", "survey"])
def test_wrong_files_get_one_line(command, tmp_path):
    wrong = tmp_path / "wrong.toml"
    for text in ("", "units = 3", "[[tube]]\nname = 1", "\x00", 'units = "mm"\n[[tape]]\nfrom = 1'):
        wrong.write_text(text)
        refused = soapstone(command, wrong)
        assert is_clean(refused)


def test_a_starter_shape_becomes_a_job_that_measures_what_was_asked(arch, tmp_path):
    """A hoop 900 wide outside to outside, 800 high to its top, in inches as in mm."""
    bench = arch.parent / "bench.toml"
    for width, height in (("900", "800"), ("35 7/16 in", "31 1/2 in")):
        out = tmp_path / f"hoop {width[:2]}.toml"
        made = soapstone(
            *("shape", "hoop", f"width={width}", f"height={height}", "--bench", bench),
            *("--die", "38 on 115", "--out", out),
        )
        assert made.code == 0
        low, high = soapstone("plan", out, "--json").json["tubes"][0]["bounds"]
        spread = sorted(b - a for a, b in zip(low, high, strict=True))
        assert spread[0] == pytest.approx(38.1)
        assert spread[1] == pytest.approx(800, abs=0.2)
        assert spread[2] == pytest.approx(900, abs=0.2)


def test_a_shape_too_small_for_the_die_says_by_how_much(arch):
    bench = arch.parent / "bench.toml"
    made = soapstone(
        *("shape", "hoop", "width=100", "--bench", bench, "--die", "38 on 115", "--json")
    )
    assert made.code == 1
    assert made.json["points"] == []
    assert "short of" in made.json["problems"][0]["what"]


def test_the_shapes_are_listed_with_what_to_measure():
    done = soapstone("shape")
    for word in ("hoop", "offset", "saddle", "gooseneck", "outside to outside"):
        assert word in done.out
    assert "width=1200 mm" in done.out


def test_the_shapes_are_listed_in_the_units_of_the_bench(tmp_path):
    bench = tmp_path / "bench.toml"
    bench.write_text(starter_text("in"), encoding="utf-8")
    done = soapstone("shape", "--bench", bench)
    assert "width=48 in" in done.out
    assert " mm" not in done.out


@pytest.mark.parametrize(
    "arguments", [("hop",), ("hoop", "wdth=1"), ("hoop", "width=x"), ("hoop", "width")]
)
def test_odd_shapes_are_refused(arch, arguments):
    bench = arch.parent / "bench.toml"
    refused = soapstone("shape", *arguments, "--bench", bench, "--die", "38 on 115")
    assert refused.code == 2
    assert is_clean(refused)


PAIR = """
units = "mm"
[[keepout]]
name = "ball"
ball = { at = [450, -250, 0], diameter = 160 }
gap = 10
[[tube]]
name = "a"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
points = [[0, 300, 0], [450, 300, 0], [900, 700, 0]]
[[tube]]
name = "b"
mirror = { of = "a", across = "xz" }
"""


def test_a_tube_whose_mirror_image_clashes_is_mended_for_both_hands(tmp_path):
    job, out = tmp_path / "pair.toml", tmp_path / "mended.toml"
    job.write_text(PAIR)
    assert soapstone("check", job).code == 1
    assert soapstone("route", job, "--mend", "--out", out).code == 0
    assert soapstone("check", out).code == 0


def test_a_route_goes_round_the_mirror_image_of_one_found_before(tmp_path):
    job, out = tmp_path / "pair.toml", tmp_path / "found.toml"
    job.write_text(
        'units = "mm"\n[[keepout]]\nname = "the other hand"\ntube = "b"\ngap = 20\n'
        '[[tube]]\nname = "a"\ntubing = "304 38.1x1.65"\ndie = "38.1 on 115"\n'
        "route = { start = { at = [0, 300, 0] }, end = { at = [1000, 300, 0] } }\n"
        '[[tube]]\nname = "b"\nmirror = { of = "a", across = "xz" }\n'
        '[[tube]]\nname = "late"\ntubing = "304 38.1x1.65"\ndie = "38.1 on 115"\n'
        "route = { start = { at = [500, -300, 500] }, end = { at = [500, -300, -500] } }\n"
    )
    assert soapstone("route", job, "--out", out).code == 0
    assert soapstone("check", out).code == 0


HANDS = """
units = "mm"
[[keepout]]
name = "tank"
cylinder = {{ from = [450, 175, -400], to = [450, 175, 400], diameter = 160 }}
gap = 10
[[keepout]]
name = "the other hand"
tube = "port"
gap = {gap}
[[tube]]
name = "starboard"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
route = {{ start = {{ at = [0, 150, 0] }}, end = {{ at = [900, 150, 0] }} }}
[[tube]]
name = "port"
mirror = {{ of = "starboard", across = "xz" }}
"""


def test_a_tube_keeps_off_its_own_mirror_image(tmp_path):
    # the short way round the tank, between it and the other hand, leaves the two too near
    near, far = tmp_path / "near.toml", tmp_path / "far.toml"
    near.write_text(HANDS.format(gap=20))
    far.write_text(HANDS.format(gap=250))
    lengths = []
    for job in (near, far):
        out = job.with_suffix(".found.toml")
        done = soapstone("route", job, "--seconds", "5", "--out", out, "--json")
        assert done.code == 0
        starboard = done.json["tubes"][0]
        checked = soapstone("check", out, "--json")
        assert checked.code == 0
        gaps = [tube["gaps"] for tube in checked.json["tubes"]]
        least = min(gap["gap"] for gap in gaps[0])
        assert starboard["clearance"] == pytest.approx(least, abs=0.05)
        lengths.append(starboard["length"])
    assert lengths[1] > lengths[0] + 1


def test_hands_that_must_meet_are_told_so(tmp_path):
    job, out = tmp_path / "meet.toml", tmp_path / "found.toml"
    job.write_text(HANDS.format(gap=20).replace("[900, 150, 0]", "[900, -150, 0]"))
    done = soapstone("route", job, "--seconds", "2", "--out", out, "--json")
    assert done.code == 1
    reasons = done.json["tubes"][0]["reasons"]
    assert any("the B end lies on the far side of the mirror plane" in one for one in reasons)
    assert any('"the other hand"' in one for one in reasons)
    assert not out.exists()


# four legs about two square planes, the second not through the origin; all keep 60 off each other
FOUR = """
units = "mm"
[[keepout]]
name = "tank"
box = { at = [500, 140, 0], size = [160, 160, 500] }
gap = 10
[[keepout]]
name = "any leg"
tube = "own"
gap = 60
[[keepout]]
name = "deep leg"
tube = "deep"
gap = 60
[[tube]]
name = "own"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
route = { start = { at = [0, 150, 0] }, end = { at = [990, 150, 0] }, min_last = 60 }
[[tube]]
name = "port"
mirror = { of = "own", across = { at = [0, 20, 0], normal = [0, 3, 0] } }
[[tube]]
name = "aft"
mirror = { of = "own", across = { at = [1050, 0, 0], normal = [-1, 0, 0] } }
[[tube]]
name = "deep"
mirror = { of = "port", across = { at = [1050, 0, 0], normal = [1, 0, 0] } }
"""


def test_four_legs_about_two_mirrors_keep_off_each_other(tmp_path):
    job, out = tmp_path / "four.toml", tmp_path / "found.toml"
    job.write_text(FOUR)
    done = soapstone("route", job, "--seconds", "3", "--out", out, "--json")
    assert done.code == 0
    checked = soapstone("check", out, "--json")
    assert checked.code == 0
    least = min(tube["clearance"] for tube in checked.json["tubes"])
    assert done.json["tubes"][0]["clearance"] == pytest.approx(least, abs=0.05)


def test_more_clearance_is_told_of_the_image_not_of_the_plane_between(tmp_path):
    job = tmp_path / "hands.toml"
    job.write_text(HANDS.format(gap=40).replace("[0, 150, 0]", "[0, 60, 0]"))
    done = soapstone("route", job, "--seconds", "3", "--json")
    assert done.code == 0
    leg = done.json["tubes"][0]
    for other in leg["alternatives"]:
        lowest = min(y for _, y, _ in other["points"])
        assert other["clearance"] <= 2 * lowest - 38.1 + 0.05
    assert leg["clearance"] <= 2 * 60 - 38.1 + 0.05


def test_the_old_place_of_an_image_is_no_obstacle_to_a_mended_tube(tmp_path):
    # moved off the middle, the tube lies where its image lay before
    job, out = tmp_path / "pair.toml", tmp_path / "mended.toml"
    text = PAIR.replace("points = [[0, 300, 0], [450, 300, 0], [900, 700, 0]]", "{points}")
    points = "points = [[0, 300, 0], [450, -40, 0], [900, 300, 0]]"
    other = '[[keepout]]\nname = "the other hand"\ntube = "b"\ngap = 20\n'
    head, tubes = text.split("[[tube]]", 1)
    job.write_text('units = "mm"\n' + other + "[[tube]]" + tubes.replace("{points}", points))
    assert head
    assert soapstone("check", job).code == 1
    done = soapstone("route", job, "--mend", "--out", out, "--json")
    assert done.code == 0
    (mended,) = done.json["tubes"]
    # the corner comes up until its bend clears the image by just the gap
    assert mended["clearance"] == pytest.approx(20, abs=0.1)
    assert soapstone("check", out).code == 0


TWO = """
units = "mm"
[[keepout]]
name = "the late one"
tube = "late"
gap = 25
[[tube]]
name = "early"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
route = { start = { at = [0, 0, 0] }, end = { at = [1000, 0, 0] } }
[[tube]]
name = "late"
tubing = "304 38.1x1.65"
die = "38.1 on 115"
route = { start = { at = [500, 0, 500] }, end = { at = [500, 0, -500] } }
"""


def test_of_two_wishes_the_later_goes_round_the_earlier_whichever_names_the_other(tmp_path):
    job, out = tmp_path / "two.toml", tmp_path / "found.toml"
    job.write_text(TWO)
    done = soapstone("route", job, "--out", out, "--json")
    assert done.code == 0
    early, late = done.json["tubes"]
    assert (early["bends"], late["nearest"]) == (0, "early")
    assert late["clearance"] == pytest.approx(25, abs=0.1)
    assert any("was routed first" in one["what"] for one in done.json["findings"])
    assert soapstone("check", out).code == 0


HAIRPIN = """
units = "{units}"
[[keepout]]
name = "tank"
box = {{ at = ["0 mm", "117.5 mm", "300 mm"], size = ["100 mm", "100 mm", "600 mm"] }}
[[tube]]
name = "rail"
tubing = {{ od = "38.1 mm", wall = "1.65 mm", material = "304" }}
die = {{ clr = "115 mm", clamp = "60 mm", follower = "90 mm", springback = 0.02 }}
gap = "10 mm"
# from floor to floor
[tube.route]
start = {{ at = [0, 0, 0], along = [0, 0, 1] }}
end = {{ at = [0, "{width} mm", 0], along = [0, 0, -1] }}
max_bends = 1
"""


@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_u_turn_is_one_bend_and_written_by_its_legs(tmp_path, units):
    job, out = tmp_path / "rail.toml", tmp_path / "found.toml"
    job.write_text('bench = "bench.toml"\n' + HAIRPIN.format(units=units, width=2 * 1.02 * 115))
    (tmp_path / "bench.toml").write_text('units = "mm"\n[bender]\nmax_angle = 190\n')
    done = soapstone("route", job, "--out", out, "--json")
    rail = done.json["tubes"][0]
    assert (done.code, rail["bends"], rail["angles"]) == (0, 1, [180.0])
    assert "# from floor to floor" in out.read_text()
    checked = soapstone("check", out, "--json")
    assert checked.code == 0
    assert checked.json["tubes"][0]["clearance"] == pytest.approx(rail["clearance"], abs=0.02)
    planned = soapstone("plan", out, "--json").json["tubes"][0]
    assert planned["length"] == pytest.approx(rail["length"], abs=0.01)
    assert "1 bend," in soapstone("route", job).out


def test_a_u_turn_says_how_far_apart_its_legs_would_be(tmp_path):
    job = tmp_path / "rail.toml"
    job.write_text('bench = "bench.toml"\n' + HAIRPIN.format(units="mm", width=230))
    (tmp_path / "bench.toml").write_text('units = "mm"\n[bender]\nmax_angle = 190\n')
    done = soapstone("route", job, "--json")
    assert done.code == 1
    assert "the ends ask for 230 mm, 4.60 mm less" in done.json["tubes"][0]["reasons"][0]


def test_a_straight_tube_is_as_long_as_the_straights_asked_for(tmp_path):
    wish = (
        'units = "mm"\n[[tube]]\nname = "a"\ntubing = "304 38.1x1.65"\ndie = "38.1 on 115"\n'
        "[tube.route]\nstart = {{ at = [0, 0, 0] }}\nend = {{ at = [50, 0, 0] }}\n"
        "max_bends = 0\n{more}"
    )
    job = tmp_path / "short.toml"
    # no bend, nothing to clamp: the die's own straights do not matter
    job.write_text(wish.format(more=""))
    assert soapstone("route", job, "--json").code == 0
    job.write_text(wish.format(more="min_last = 80\n"))
    done = soapstone("route", job, "--json")
    assert done.code == 1
    assert "a straight of 80 mm is asked for" in done.json["tubes"][0]["reasons"][0]


def test_what_was_found_is_held_against_everything_once_more(tmp_path):
    """A way that has to cross itself is no tube, found or not."""
    job = tmp_path / "loop.toml"
    job.write_text(
        'units = "mm"\n[[tube]]\nname = "a"\ntubing = "304 38.1x1.65"\ndie = "38.1 on 115"\n'
        "[tube.route]\nstart = { at = [0, 0, 0], along = [1, 0, 0] }\n"
        "end = { at = [300, -400, 0], along = [0, -1, 0] }\nmax_bends = 2\n"
        "through = [{ at = [500, 0, 0] }, { at = [700, 400, 0] }, { at = [300, 400, 0] }]\n"
    )
    done = soapstone("route", job, "--seconds", "2", "--json")
    assert done.code == 1
    assert done.json["tubes"][0]["found"]
    assert not done.json["sound"]
    assert any("into itself" in finding["what"] for finding in done.json["findings"])


def test_an_odd_seed_is_refused(arch):
    refused = soapstone("route", arch, "--seed", "-1")
    assert refused.code == 2
    assert is_clean(refused)
