"""`soapstone inspect` from the blank file to the bench, and with files that are wrong."""

import re
import shutil
import tomllib
from importlib.resources import files

import pytest

from soapstone.flow import plan_job
from tests.cli.running import is_clean, soapstone

DEMO = files("soapstone.demo")
JOB = """format = 1
name = "invented"
units = "{units}"
[[tube]]
name = "part"
tubing = {{ od = "38.1 mm", wall = "1.65 mm", material = "304" }}
die = {{ clr = "115 mm", clamp = "60 mm", follower = "90 mm", springback = 0.02, dial_zero = 0 }}
[tube.bends]
legs = {legs}
angles = {angles}
rotations = {turns}
from = [0, 0, 0]
along = [1, 0, 0]
up = [0, 1, 0]
"""


def job(folder, legs, angles, turns, units="mm"):
    path = folder / "job.toml"
    path.write_text(JOB.format(units=units, legs=legs, angles=angles, turns=turns))
    return path


@pytest.fixture
def arch(tmp_path):
    for name in ("stern-arch.toml", "bench.toml", "trials-38.csv"):
        shutil.copy(str(DEMO / name), tmp_path / name)
    return tmp_path / "stern-arch.toml"


def filled(blank: str, plan, off: dict[str, float] | None = None) -> str:
    """The blank file with every row read as drawn, or off by so much."""
    angles = {str(b.n): b.angle + (off or {}).get(f"bend {b.n}", 0.0) for b in plan.bends}
    text = re.sub(r"# length =   # (\S+) mm as drawn", r"length = \1", blank)
    for n, angle in angles.items():
        text = re.sub(rf"(n = {n}\n)# angle = .*", rf"\g<1>angle = {angle:.2f}", text)
    return text


@pytest.mark.parametrize("tube", ["starboard leg", "port leg", "cross tube"])
def test_a_tube_as_drawn_is_good_and_teaches_the_bench(arch, tube):
    readings = arch.parent / "readings.toml"
    asked = soapstone("inspect", arch, readings, "--tube", tube, "--blank", "--json")
    assert asked.code == 0
    assert asked.json["distances"] >= 3
    tomllib.loads(readings.read_text("utf-8"))
    plan = next(one for one in plan_job(arch).planned if one.name == tube)
    readings.write_text(filled(readings.read_text("utf-8"), plan), "utf-8")
    bench = arch.parent / "bench.toml"
    before = bench.read_text("utf-8")
    told = soapstone("inspect", arch, readings, "--learn", bench, "--json")
    assert told.code == 0, told.out
    for one in told.json["as_made"]:
        assert one["verdict"] != "out"
        assert abs(one["off"]) < one["plus_minus"] + 0.3
    assert not told.json["suspects"]
    assert bench.read_text("utf-8").startswith(before.rstrip())
    assert len(tomllib.loads(bench.read_text("utf-8"))["trial"]) == 3
    assert soapstone("plan", arch, "--json").code == 0


def test_a_bend_that_is_off_is_named(arch):
    readings = arch.parent / "readings.toml"
    text = 'format = 1\ntube = "port leg"\n[[bend]]\nn = 3\nangle = 45.0\n'
    readings.write_text(text)
    told = soapstone("inspect", arch, readings)
    assert told.code == 1
    assert "port leg, bend 3" in told.out


ODD = [
    ("[300, 300]", "[180]", "[0]", "mm"),
    ("[300, 300]", "[45]", "[0]", "mm"),
    ("[600]", "[]", "[]", "mm"),
    ("[12, 14, 12]", "[90, 90]", "[0, 0]", "in"),
    ("[12, 14, 12]", "[90, 60]", "[0, 180]", "in"),
    ("[300, 0, 300]", "[90, 90]", "[0, 90]", "mm"),
    ("[20, 300, 20]", "[90, 90]", "[0, 90]", "mm"),
]


@pytest.mark.parametrize("shape", ODD)
def test_odd_tubes_are_asked_for_and_answered(tmp_path, shape):
    path, readings = job(tmp_path, *shape), tmp_path / "readings.toml"
    assert soapstone("inspect", path, readings, "--blank").code == 0
    told = soapstone("inspect", path, readings)
    assert told.code == 1, "a part that nobody measured has not passed"
    assert "nothing was measured" in told.out
    ends = '[[tape]]\nfrom = "A end"\nto = "B end"\nlength = "400 mm"\n'
    with readings.open("a") as file:
        file.write(ends)
    assert is_clean(soapstone("inspect", path, readings))


TAPE = '[[tape]]\nfrom = "A end"\nto = "mark 2"\nlength = 500\n'
WRONG = [
    ('tube = "prat"\n' + TAPE, "no tube"),
    (TAPE.replace("mark 2", "mark 9"), 'tape[1].to: no place "mark 9"'),
    (TAPE.replace("mark 2", "a end"), "expected another place"),
    (TAPE.replace("500", "-5"), "tape[1].length: expected a length above 0"),
    (TAPE.replace("500", "nan"), "tape[1].length: expected a length"),
    (TAPE.replace("to =", "too ="), "unknown key"),
    (TAPE + 'how = "inside"\n' + "[[bend]]\nn = 7\n", "bend[1].n: expected a bend from 1 to 2"),
    ("[[bend]]\nn = 1\nangle = 0\n", "bend[1].angle"),
    ("[[bend]]\nn = 1\n[[bend]]\nn = 1\n", "stands twice"),
    (TAPE.replace("mark 2", "corner 1"), 'expected "centre"'),
    ('tolerance = { iso_13920 = "E" }\n' + TAPE, "tolerance.iso_13920"),
    ("[[tape\n", "expected TOML"),
]


@pytest.mark.parametrize(("text", "said"), WRONG)
def test_a_wrong_file_is_refused_in_one_line(tmp_path, text, said):
    path = job(tmp_path, "[300, 300, 300]", "[60, 60]", "[0, 90]")
    readings = tmp_path / "readings.toml"
    readings.write_text(text)
    told = soapstone("inspect", path, readings)
    assert told.code == 2, told
    assert is_clean(told)
    assert said in told.err


def test_a_blank_file_does_not_overwrite(tmp_path):
    path = job(tmp_path, "[300, 300]", "[60]", "[0]")
    (tmp_path / "readings.toml").write_text("mine")
    assert soapstone("inspect", path, tmp_path / "readings.toml", "--blank").code == 2
    assert (tmp_path / "readings.toml").read_text() == "mine"


def test_readings_that_cannot_be_are_refused(tmp_path):
    path, readings = job(tmp_path, "[300, 300]", "[45]", "[0]", "mm"), tmp_path / "readings.toml"
    head = 'format = 1\nunits = "mm"\n'
    long = '[[tape]]\nfrom = "A end"\nto = "B end"\nlength = 5000\n'
    dial = "[[bend]]\nn = 1\nangle = 45\ndial = 20\n"
    for text, key in ((long, "tape[1].length"), (dial, "bend[1].dial")):
        readings.write_text(head + text)
        refused = soapstone("inspect", path, readings)
        assert refused.code == 2
        assert is_clean(refused)
        assert key in refused.err
