"""Bench files: what is read, and what is said when they are wrong."""

from pathlib import Path

import pytest

from soapstone.bench.files import bench_from_text, read_bench, starter_bench, starter_text
from soapstone.bench.model import Bench, Die
from soapstone.errors import InputError

FULL = """
format = 1
name = "an invented shop"
units = "in"
tape = "1/32 in"
dial_step = 1
tolerance = "30'"

[bender]
name = "floor bender"
plane = "vertical"
swing = "down"
die_height = "3 ft 1 1/2 in"
stroke = 45
max_angle = 120
ram = { force = "15 kip", arm = "150 mm" }
[[bender.body]]
name = "post"
cylinder = { from = [0, -8, 0], to = [0, -8, -36], diameter = "4 1/2" }
[[bender.body]]
halfspace = { at = [0, "1 m", 0], normal = [0, -2, 0] }

[[die]]
name = "1 1/2 on 4 1/2"
od = "1 1/2"
clr = 4.5
mark_offset = "-1/4 in"
clamp = "2 3/8"
follower = 3.5
springback = 0.025
dial_zero = -1.5
stretch = 0.01

[[tubing]]
name = "DOM 1 1/2 x .120"
od = 1.5
wall = ".120"
material = "1020 DOM"
seam = false
sticks = ["20 ft", "10 ft"]
price = 11.40

[[material]]
name = "1020 DOM"
yield = "70 ksi"

[[trial]]
die = "1 1/2 on 4 1/2"
tubing = "DOM 1 1/2 x .120"
lot = "a"
date = 2024-03-01
bends = [[30, 28.4], [60, 57.7]]
"""


def said(text: str) -> str:
    """What is said about a wrong bench file."""
    with pytest.raises(InputError) as refused:
        bench_from_text(text, "bench.toml")
    line = str(refused.value)
    assert line.startswith("bench.toml: ")
    assert line.isprintable()
    return line.removeprefix("bench.toml: ")


def test_everything_is_in_mm_and_degrees_once_read() -> None:
    bench = bench_from_text(FULL)
    die, tubing, bender = bench.dies[0], bench.tubings[0], bench.bender
    assert (die.od, die.clr, die.mark_offset) == (38.1, 114.3, -6.35)
    assert (die.clamp, die.follower) == (60.325, 88.9)
    assert (die.springback, die.dial_zero, die.stretch) == (0.025, -1.5, 0.01)
    assert (tubing.od, tubing.wall, tubing.sticks) == (38.1, 3.048, (6096.0, 3048.0))
    assert (tubing.seam, tubing.price) == (False, 11.40)
    assert (bender.plane, bender.swing, bender.die_height) == ("vertical", "down", 952.5)
    assert bender.ram
    assert bender.ram.force == pytest.approx(15_000 * 4.4482216152605, rel=1e-12)
    assert bender.ram.arm == 150.0
    assert bender.bodies[0].solid.diameter == 114.3  # type: ignore[union-attr]
    assert bender.bodies[1].solid.normal == (0.0, -1.0, 0.0)  # type: ignore[union-attr]
    assert (bench.tape.step_mm, bench.dial_step, bench.tolerance) == (0.79375, 1.0, 0.5)
    assert bench.trials[0].bends == ((30.0, 28.4), (60.0, 57.7))
    assert bench.trials[0].date == "2024-03-01"


def test_what_may_be_left_out_has_plain_values() -> None:
    bench = bench_from_text(
        'units = "mm"\n[[die]]\nname = "d"\nod = 25\nclr = 75\n'
        '[[tubing]]\nname = "t"\nod = 25\nwall = 2\nmaterial = "304"'
    )
    die, bender = bench.die("d"), bench.bender
    assert (die.mark_offset, die.clamp, die.follower, die.stretch) == (0, 0, 0, 0)
    assert (die.springback, die.dial_zero) == (None, None)
    assert (bender.plane, bender.swing, bender.stroke, bender.max_angle) == (
        "horizontal", "left", 0, 180,
    )  # fmt: skip
    assert (str(bench.tape), bench.dial_step, bench.tolerance) == ("1 mm", 0.5, 0.5)
    assert bench_from_text('units = "mm"\nbender = { plane = "vertical" }').bender.swing == "up"


def test_a_shops_own_figure_goes_before_the_table_and_the_rest_stays() -> None:
    bench = bench_from_text(FULL)
    own, table = bench.material("DOM 1020"), starter_bench("in").material("1020 DOM")
    assert own.yield_strength == pytest.approx(70 * 6.894757, rel=1e-6)
    assert (own.density, own.e) == (table.density, table.e)
    assert own.yield_strength != table.yield_strength
    mine = bench_from_text(
        'units = "mm"\n[[material]]\nname = "bronze"\n'
        'density = "8.8 g/cm3"\nE = "110 GPa"\nyield = 150'
    ).material("bronze")
    assert (mine.density, mine.e, mine.yield_strength) == (8800.0, 110_000.0, 150.0)


def test_names_are_looked_up_and_near_ones_offered() -> None:
    bench = starter_bench("mm")
    assert bench.die("38.1 on 115").clr == 115
    with pytest.raises(InputError, match=r'no die "38.1 on 116"; did you mean "38.1 on 115"\?'):
        bench.die("38.1 on 116")
    with pytest.raises(InputError, match=r'no tubing "304 38x1.65"; did you mean "304 38.1x1.65"'):
        bench.tubing("304 38x1.65")
    with pytest.raises(InputError, match="unobtainium"):
        bench.material("unobtainium")


def test_dies_are_found_by_the_tubes_diameter() -> None:
    bench = starter_bench("in")
    assert [die.name for die in bench.dies_for(38.1)] == ["1 1/2 on 4 1/2", "1 1/2 on 6"]
    assert bench.dies_for(38.0)
    assert not bench.dies_for(40.0)


@pytest.mark.parametrize("units", ["mm", "in"])
def test_starter_benches_say_that_they_are_invented_and_fit_together(units: str) -> None:
    bench = starter_bench(units)
    assert "invented" in starter_text(units)
    assert bench.units == units
    assert all(bench.dies_for(tubing.od) for tubing in bench.tubings)
    assert all(die.clr >= 2.5 * die.od and die.clamp >= die.od for die in bench.dies)


FAULTS = [
    ("units = 'cm'", 'units: expected "mm" or "in", found \'cm\''),
    ("", 'units: missing; expected the unit of bare lengths, "mm" or "in"'),
    ("format = 2", "format: expected 1, found 2"),
    ("dei = 1", 'dei: unknown key; did you mean "die"?'),
    ("die = 5", "die: expected a list [ ... ], found 5"),
    ("die = [5]", "die[1]: expected a table { ... }, found 5"),
    ("[[die]]\nname = 'a'\nod = 38", 'die "a".clr: missing; expected the centreline radius'),
    ("[[die]]\nod = 38\nclr = 100", "die[1].name: missing; expected what the shop calls it"),
    ("[[die]]\nname = ' '\nod = 38\nclr = 100", "die[1].name: expected a name of 1 to 80"),
    ("[[die]]\nname = 'a'\nod = 38\nclr = 19", 'die "a".clr: expected a centreline radius above'),
    ("[[die]]\nname = 'a'\nod = 'x'\nclr = 90", 'die "a".od: expected a length such as'),
    ("[[die]]\nname = 'a'\nod = nan\nclr = 90", "found nan"),
    ("[[die]]\nname = 'a'\nod = 38\nclr = inf", 'die "a".clr: expected a length'),
    ("[[die]]\nname = 'a'\nod = 38\nclr = 90\nclamp = -1", "expected a length of 0 or more"),
    ("[[die]]\nname = 'a'\nod = 38\nclr = 90\nspringback = 3", "expected a ratio from 0 to 0.5"),
    ("[[die]]\nname = 'a'\nod = 38\nclr = 90\nfolower = 3", 'did you mean "follower"?'),
    ("[[die]]\nname = 'a'\nod = 38\nclr = 90\n" * 2, 'die "a": expected another name'),
    (
        "[[tubing]]\nname = 't'\nod = 10\nwall = 5\nmaterial = '304'",
        'tubing "t".wall: expected a wall',
    ),
    ("[[tubing]]\nname = 't'\nod = 10\nwall = 1\nmaterial = 'xyz'", 'no material "xyz" is known'),
    (
        "[[tubing]]\nname = 't'\nod = 10\nwall = 1\nmaterial = '304'\nsticks = [0]",
        ".sticks[1]: exp",
    ),
    (
        "[[tubing]]\nname = 't'\nod = 10\nwall = 1\nmaterial = '304'\nseam = 1",
        "expected true or false",
    ),
    ("[[material]]\nname = 'x'\nE = 200000", 'material "x": density and yield missing'),
    ("bender = { swing = 'up' }", 'bender.swing: expected "left" or "right" on a horizontal plane'),
    ("bender = { max_angle = 0 }", "bender.max_angle: expected degrees above 0 up to 360"),
    ("bender = { ram = { force = 70, arm = 1 } }", "bender.ram.force: expected a force such as"),
    ("bender = { body = [{}] }", "bender.body[1]: expected exactly one of box, cylinder, ball"),
    (
        "bender = { body = [{ ball = { at = [0, 0], diameter = 1 } }] }",
        "bender.body[1].ball.at: expected a point [x, y, z], found a list of 2",
    ),
    ("tape = '5'", "tape: expected a tape's step"),
    ("dial_step = 0", "dial_step: expected degrees above 0"),
    ("[[trial]]\ndie = 'a'\ntubing = 't'", "trial[1]: expected exactly one of bends, file"),
    ("[[trial]]\ndie = 'a'\ntubing = 't'\nbends = [[1]]", "trial[1].bends: expected trial bends"),
    ("[[trial]]\ndie = 'a'\ntubing = 't'\nbends = [[1, 0]]", "found [1, 0]"),
]


@pytest.mark.parametrize(("text", "expected"), FAULTS)
def test_a_fault_names_its_key_and_what_is_expected(text: str, expected: str) -> None:
    units = "" if text.startswith("units") or not text else 'units = "mm"\n'
    assert expected in said(units + text)


def test_all_faults_of_a_file_are_named_at_once_up_to_five() -> None:
    die = "[[die]]\nod = 38\nclr = 90\n"
    line = said('units = "mm"\n' + die * 7)
    assert line.count("name: missing") == 5
    assert line.endswith("; and 2 more")
    both = said('[[die]]\nname = "a"\nod = -1\nclr = 5\nx = 1\n')
    assert all(part in both for part in ("units: missing", 'die "a".od', 'die "a".x: unknown key'))


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"units = 'mm'\nx = \n", "expected TOML: invalid value (at line 2, column 5)"),
        (b"x = 1\nx = 2\n", "expected TOML"),
        (b"units = '\xff'", "line 1: expected text in UTF-8"),
        (b"# 1\n# 2\n\xe9", "line 3: expected text in UTF-8"),
        (b"x = " + b"[" * 5000, "expected TOML: lists nested too deep"),
        (b"x = " + b"1" * 5000, "expected TOML: a number is too long"),
        (b"x = 2024-13-01", "expected TOML"),
        (b"#" * 4_000_001, "expected at most 4 MB, the file is larger"),
    ],
)
def test_a_file_that_is_no_toml_is_refused_on_one_line(
    tmp_path: Path, content: bytes, expected: str
) -> None:
    path = tmp_path / "bench.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as refused:
        read_bench(path)
    assert str(refused.value).startswith(f"{path}: ")
    assert expected in str(refused.value)
    assert str(refused.value).isprintable()


def test_places_that_are_no_file_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        read_bench(tmp_path / "bench.toml")
    with pytest.raises(InputError, match="this is a directory"):
        read_bench(tmp_path)
    with pytest.raises(InputError, match="not a file name"):
        read_bench("a\0b.toml")


def test_a_byte_order_mark_and_windows_line_ends_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "bench.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FULL.replace("\n", "\r\n").encode())
    assert read_bench(path).dies == bench_from_text(FULL).dies


def test_trial_bends_are_read_from_a_file_beside_the_bench(tmp_path: Path) -> None:
    text = 'units = "mm"\n[[trial]]\ndie = "d"\ntubing = "t"\nlot = "old"\nfile = "trials.csv"\n'
    (tmp_path / "bench.toml").write_text(text)
    (tmp_path / "trials.csv").write_text("dial,angle,lot\n31,30,\n62,60,new\n93,90,new\n")
    trials = read_bench(tmp_path / "bench.toml").trials
    assert [(trial.lot, trial.bends) for trial in trials] == [
        ("old", ((31.0, 30.0),)),
        ("new", ((62.0, 60.0), (93.0, 90.0))),
    ]
    (tmp_path / "trials.csv").write_text("dial,angle\n31,x\n")
    with pytest.raises(InputError, match=r"trials\.csv: row 2"):
        read_bench(tmp_path / "bench.toml")
    (tmp_path / "trials.csv").unlink()
    with pytest.raises(InputError, match=r"trials\.csv: there is no such file"):
        read_bench(tmp_path / "bench.toml")
    with pytest.raises(InputError, match="other files are not read"):
        bench_from_text(text)


def test_a_bench_made_by_code_takes_mm_and_its_own_names() -> None:
    bench = Bench(units="in", dies=(Die(name="d", od=25.4, clr=76.2),))
    assert bench.die("d").clr == 76.2
    assert str(bench.tape) == "1/16 in"
    with pytest.raises(ValueError, match="frozen"):
        bench.units = "mm"
