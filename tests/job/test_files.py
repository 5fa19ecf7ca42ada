"""Job files: what is read, and what is said when they are wrong."""

import math
import time
from pathlib import Path

import pytest

from soapstone.bench.files import starter_bench, starter_text
from soapstone.errors import InputError
from soapstone.job.files import bench_of, job_from_text, read_job, starter_job_text
from soapstone.job.tooling import die_of, tubing_of

FULL = """
format = 1
name = "everything at once"
units = "mm"
bench = "bench.toml"
note = "invented"

[points]
foot = [0, -600, 0]
"a b" = ["12 3/8 in", "1.2 m", -3.5]

[[keepout]]
name = "outboard"
box = { at = [0, 0, 300], size = [400, 500, 600], turn = [0, 0, 15] }
gap = 12
hinge = { through = "foot", along = [0, 2, 0], from = 65, to = -25 }
[[keepout]]
name = "rail"
cylinder = { from = "foot", to = [0, 0, "1 m"], diameter = 80 }
hinge = [
  { through = "foot", along = [0, 1, 0], from = 0, to = 10 },
  { through = "foot", along = [0, 0, 1], from = 0, to = 20 },
]
[[keepout]]
name = "float"
ball = { at = "a b", diameter = "4 in" }
[[keepout]]
name = "deck"
halfspace = { at = [0, 0, 0], normal = [0, 0, 3] }

[[tube]]
name = "port leg"
tubing = "t"
die = "d"
gap = "1/2 in"
tolerance = 2
note = "made first"
order = [2, 1]
lead = ["A", "B"]
points = ["foot", [0, -600, 400], [250, -300, 900], "a b"]
[[tube]]
name = "starboard leg"
tubing = { od = 38.1, wall = 1.65, material = "304" }
die = { clr = 115, clamp = 60, follower = 90 }
lead = "B"
bends = { legs = [300, 220.5, 410], angles = [80, 35], rotations = [0, -180], from = "foot", along = [0, 0, 1], up = [1, 0, 1] }
[[tube]]
name = "its image"
mirror = { of = "starboard leg", across = "xz" }
[[tube]]
name = "another"
tubing = "t"
die = "d"
mirror = { of = "its image", across = { at = "foot", normal = [3, 0, 4] } }
[[tube]]
name = "found"
tubing = "t"
die = "d"
route = { start = { at = "foot", along = [0, 0, 1], within = 5 }, end = { at = [9, 9, 9] }, through = [{ at = "a b", within = "1 in" }], max_bends = 4, min_straight = 50, min_first = 60, min_last = 70, angles = [10, 90] }

[[support]]
tube = "port leg"
at = "A"
fix = "all"
[[support]]
tube = "found"
at = [1, 2, 3]
fix = ["rz", "x"]
[[joint]]
tubes = ["port leg", "starboard leg"]
at = "a b"
[[load]]
case = "slam"
at = [0, 0, 100]
onto = ["port leg", "foot", [1, 2, 3]]
mass = "22 kg"
g = [0, 0, -3]
[[load]]
case = "slam"
at = "foot"
onto = "found"
force = ["0 N", "1 kN", "-120 lbf"]
[[cope]]
tube = "port leg"
end = "B"
onto = "found"
[[cope]]
tube = "found"
end = "A"
onto = { at = "foot", normal = [0, 0, 1] }
"""  # noqa: E501

HEAD = 'units = "mm"\n'
TUBE = '[[tube]]\nname = "a"\ntubing = "t"\n'
STRAIGHT = TUBE + "points = [[0, 0, 0], [1, 1, 1]]\n"


def test_points_have_names_wherever_a_point_is_asked_for() -> None:
    job = job_from_text(FULL)
    foot, place = (0.0, -600.0, 0.0), (314.325, 1200.0, -3.5)
    assert job.points == {"foot": foot, "a b": place}
    leg, placed, _, image, found = job.tubes
    assert leg.points == (foot, (0, -600, 400), (250, -300, 900), place)
    assert placed.bends
    assert placed.bends.start == foot
    assert image.mirror
    assert image.mirror.plane == (foot, (0.6, 0.0, 0.8))
    assert found.route
    assert found.route.start.at == foot
    assert found.route.through[0].at == place
    assert job.keepouts[1].solid.start == foot  # type: ignore[union-attr]
    assert job.keepouts[2].solid.at == place  # type: ignore[union-attr]
    assert job.joints[0].at == place
    assert job.loads[0].onto == ("port leg", foot, (1.0, 2.0, 3.0))
    assert job.loads[1].onto == ("found",)
    assert job.copes[1].onto.at == foot  # type: ignore[union-attr]


def test_what_a_file_says_is_in_mm_degrees_and_newtons_once_read() -> None:
    job = job_from_text(FULL)
    leg, placed, image, _, found = job.tubes
    assert (leg.gap, leg.tolerance, leg.note) == (12.7, 2.0, "made first")
    assert placed.bends
    assert (placed.bends.legs, placed.bends.angles) == ((300.0, 220.5, 410.0), (80.0, 35.0))
    assert placed.bends.turns == (0.0, 180.0)
    assert placed.bends.upright == (1.0, 0.0, 0.0)
    assert image.mirror
    assert image.mirror.plane == ((0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    route = found.route
    assert route
    assert (route.start.along, route.start.within) == ((0.0, 0.0, 1.0), 5.0)
    assert (route.end.along, route.through[0].within) == (None, 25.4)
    assert (route.max_bends, route.angles) == (4, (10.0, 90.0))
    assert (route.min_straight, route.min_first, route.min_last) == (50.0, 60.0, 70.0)
    outboard, rail, _, deck = job.keepouts
    assert (outboard.hinges[0].low, outboard.hinges[0].high) == (-25.0, 65.0)
    assert outboard.hinges[0].along == (0.0, 1.0, 0.0)
    assert (outboard.gap, rail.gap, len(rail.hinges)) == (12.0, None, 2)
    assert deck.solid.normal == (0.0, 0.0, 1.0)  # type: ignore[union-attr]
    assert job.supports[0].fix == ("x", "y", "z", "rx", "ry", "rz")
    assert job.supports[1].fix == ("x", "rz")
    # 22 kg at three times standard gravity; 120 lbf is 533.787 N
    assert job.loads[0].vector == pytest.approx((0, 0, -22 * 3 * 9.80665))
    assert job.loads[1].vector == pytest.approx((0, 1000, -533.787), abs=1e-3)


def test_a_job_in_inches_is_the_same_job() -> None:
    inches = job_from_text(
        'units = "in"\n'
        + TUBE
        + 'gap = "1/2"\npoints = [[0, 0, 0], ["5\' 6-1/2\\"", 0, "10 mm"]]\n'
    )
    tube = inches.tubes[0]
    assert tube.points == ((0, 0, 0), (1689.1, 0, 10.0))
    assert tube.gap == 12.7


def test_without_up_the_first_bend_turns_to_some_side_square_to_the_tube() -> None:
    text = HEAD + TUBE + "bends = { legs = [1, 1], angles = [90], along = [1, 2, 3] }\n"
    bends = job_from_text(text).tubes[0].bends
    assert bends
    assert math.hypot(*bends.upright) == pytest.approx(1)
    assert sum(a * b for a, b in zip(bends.upright, bends.along, strict=True)) == pytest.approx(0)
    assert bends.turns == (0.0,)


def test_a_mesh_is_looked_for_beside_the_job(tmp_path: Path) -> None:
    (tmp_path / "scan.stl").write_text("solid\n")
    path = tmp_path / "job.toml"
    path.write_text(
        HEAD
        + "[[keepout]]\nname = 'scan'\nmesh = { file = 'scan.stl', units = 'm', at = [1, 2, 3] }\n"
    )
    mesh = read_job(path).keepouts[0].mesh
    assert mesh
    assert mesh.file == tmp_path / "scan.stl"
    assert mesh.scale == 1000.0


def test_the_bench_is_the_jobs_own_else_the_shops_else_the_starter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop, own = tmp_path / "shop.toml", tmp_path / "bench.toml"
    for path, name in ((shop, "the shop's"), (own, "the job's")):
        path.write_text(f'units = "mm"\nname = "{name}"\n')
    job = tmp_path / "job.toml"
    job.write_text(HEAD + 'bench = "bench.toml"\n')
    plain = tmp_path / "plain.toml"
    plain.write_text('units = "in"\n')

    assert bench_of(read_job(job)).name == "the job's"
    assert bench_of(read_job(plain)).dies == starter_bench("in").dies
    monkeypatch.setenv("SOAPSTONE_BENCH", str(shop))
    assert bench_of(read_job(job)).name == "the job's"
    assert bench_of(read_job(plain)).name == "the shop's"
    monkeypatch.setenv("SOAPSTONE_BENCH", str(tmp_path / "gone.toml"))
    with pytest.raises(InputError, match=r"gone\.toml: there is no such file"):
        bench_of(read_job(plain))
    own.unlink()
    with pytest.raises(InputError, match=r'job\.toml: bench: there is no file "bench\.toml"'):
        bench_of(read_job(job))


def test_a_tube_finds_its_tubing_and_die_in_the_bench_or_in_place() -> None:
    job = job_from_text(FULL.replace('"t"', '"304 38.1x1.65"').replace('"d"', '"38.1 on 115"'))
    bench = starter_bench()
    leg, placed, image, another, _ = job.tubes
    assert tubing_of(job, leg, bench) is bench.tubing("304 38.1x1.65")
    assert die_of(job, leg, bench) is bench.die("38.1 on 115")
    inline = tubing_of(job, placed, bench)
    assert (inline.name, inline.od, inline.wall) == ("304 38.1x1.65", 38.1, 1.65)
    die = die_of(job, placed, bench)
    assert (die.name, die.od, die.clr, die.clamp) == ("CLR 115", 38.1, 115, 60)
    assert tubing_of(job, image, bench) == inline
    assert die_of(job, image, bench) == die
    assert die_of(job, another, bench) is bench.die("38.1 on 115")


@pytest.mark.parametrize(
    ("tube", "expected"),
    [
        ("tubing = '304 38.1x1.6'\ndie = '38.1 on 115'", '.tubing: no tubing "304 38.1x1.6" in '),
        ("tubing = '304 38.1x1.65'\ndie = '38.1 on 11'", '; did you mean "38.1 on 115"?'),
        ("tubing = '304 38.1x1.65'", 'expected one of the dies for OD 38.1: "38.1 on 115", "38.1'),
        (
            "tubing = { od = 60, wall = 3, material = '304' }",
            ".die: missing; expected a die for OD 60",
        ),
        ("tubing = { od = 60, wall = 3, material = 'q' }", ".tubing.material: no material"),
        ("tubing = '304 38.1x1.65'\ndie = { clr = 19 }", ".die.clr: expected a centreline radius"),
    ],
)
def test_a_choice_that_the_bench_has_not_is_refused_by_the_jobs_name(
    tube: str, expected: str
) -> None:
    text = HEAD + f"[[tube]]\nname = 'a'\n{tube}\npoints = [[0,0,0],[500,0,0],[500,500,0]]\n"
    job = job_from_text(text, Path("job.toml"))
    with pytest.raises(InputError) as refused:  # noqa: PT012
        tubing_of(job, job.tubes[0], starter_bench())
        die_of(job, job.tubes[0], starter_bench())
    assert str(refused.value).startswith('job.toml: tube "a"')
    assert expected in str(refused.value)


def test_the_only_die_that_fits_is_taken_and_a_straight_tube_needs_none() -> None:
    tube = "[[tube]]\nname = 'a'\ntubing = {}\npoints = [[0,0,0],[500,0,0]{}]\n"
    bend, inline = ", [500, 500, 0]", "{ od = 60, wall = 3, material = '304' }"
    for tubing, more, die in (
        ("'304 42.4x2'", bend, "42.4 on 130"),
        ("'304 42.4x2'", "", "42.4 on 130"),
        (inline, "", "no die"),
    ):
        job = job_from_text(HEAD + tube.format(tubing, more))
        assert die_of(job, job.tubes[0], starter_bench()).name == die


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_starter_job_is_sound_on_the_starter_bench(units: str) -> None:
    text = starter_job_text(units)
    job = job_from_text(text)
    bench = starter_bench(units)
    assert "invented" in text
    assert job.units == units
    assert [die_of(job, tube, bench).clr for tube in job.tubes] == [
        die_of(job, job.tubes[0], bench).clr
    ] * len(job.tubes)
    assert job.keepouts
    assert job.loads
    assert job.copes


def test_remarks_of_the_starter_job_hold_other_ways_that_work() -> None:
    """What stands in a remark can be put in place of the corners."""
    for units in ("mm", "in"):
        lines = starter_job_text(units).splitlines()
        for way in ("bends", "route"):
            (line,) = [one.lstrip("# ") for one in lines if one.startswith(f"#   {way} = ")]
            start = lines.index("[[tube]]")
            end = lines.index("]", start)
            corners = next(i for i in range(start, end) if lines[i].startswith("points = "))
            changed = [*lines[:corners], line, *lines[end + 1 :]]
            assert getattr(job_from_text("\n".join(changed)).tubes[0], way)


def test_a_job_is_read_in_a_few_milliseconds() -> None:
    """Reading is a small part of the 20 ms that a page may take to answer."""
    job_from_text(FULL)
    began = time.perf_counter()
    for _ in range(5):
        job_from_text(FULL)
    assert (time.perf_counter() - began) / 5 < 0.02


def test_starter_texts_are_of_known_units_only() -> None:
    for give in (starter_job_text, starter_text):
        with pytest.raises(ValueError, match='"mm" or "in"'):
            give("cm")
