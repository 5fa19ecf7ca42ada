"""Every command as a user runs it: what it prints, what it writes, how it refuses."""

import json
import re
import shutil
import subprocess
import sys
from fractions import Fraction
from importlib.resources import files

import pytest

from tests.cli.running import is_clean, soapstone


@pytest.fixture
def arch(tmp_path):
    """The demo job with its bench, in a folder of its own."""
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return tmp_path / "stern-arch.toml"


def too_near(arch):
    """Move the first corner of the starboard leg too near to its foot for any bend."""
    text = arch.read_text()
    changed = re.sub(r"\[350, -780, 357[.0-9]*\]", "[350, -780, 9]", text)
    assert changed != text
    arch.write_text(changed)


def test_the_demo_ends_with_a_pack_that_is_there(tmp_path):
    done = soapstone("demo", tmp_path / "new folder")
    assert done.code == 0
    pack = tmp_path / "new folder" / "stern-arch.pdf"
    assert pack.read_bytes().startswith(b"%PDF")
    assert str(pack) in done.out.splitlines()[-1]


def test_the_demo_can_be_run_again_and_leaves_changed_files_alone(tmp_path):
    assert soapstone("demo", tmp_path).code == 0
    assert soapstone("demo", tmp_path).code == 0
    job = tmp_path / "stern-arch.toml"
    job.write_text(job.read_text() + "\n# mine\n")
    refused = soapstone("demo", tmp_path)
    assert refused.code == 2
    assert "has been changed" in refused.err
    assert job.read_text().endswith("# mine\n")


def test_the_plan_in_json_has_every_key_that_scripts_rely_on(arch):
    plan = soapstone("plan", arch, "--json").json
    tube = plan["tubes"][0]
    assert {"name", "length", "stock", "mass", "points", "bends", "cuts", "problems"} <= set(tube)
    bend = tube["bends"][1]
    assert {
        "n",
        "lead",
        "mark",
        "stock_mark",
        "leg",
        "rotation",
        "angle",
        "loaded",
        "dial",
        "dial_low",
        "dial_high",
        "roll",
        "strokes",
        "level",
    } <= set(bend)
    assert {"mark", "stock_mark", "keeps"} <= set(tube["cuts"][0])
    assert len(plan["tubes"]) == 5


def test_the_demos_hands_share_their_marks_and_swap_their_rolls(arch):
    tubes = {tube["name"]: tube for tube in soapstone("plan", arch, "--json").json["tubes"]}
    for bend, twin in zip(tubes["starboard leg"]["bends"], tubes["port leg"]["bends"], strict=True):
        assert twin["mark"] == pytest.approx(bend["mark"], abs=1e-9)
        assert twin["dial"] == pytest.approx(bend["dial"], abs=1e-9)
        assert twin["roll"] == pytest.approx(-bend["roll"], abs=1e-9)


def test_the_plan_for_people_names_every_tube_and_bend(arch):
    text = soapstone("plan", arch).out
    for name in ("starboard leg", "port leg", "cross tube", "starboard brace", "port brace"):
        assert name in text
    assert "clockwise" in text
    assert "anticlockwise" in text


def test_a_job_in_inches_speaks_in_inches_and_its_json_in_mm(tmp_path):
    job = tmp_path / "rail.toml"
    job.write_text(
        'format = 1\nname = "rail"\nunits = "in"\n[[tube]]\nname = "rail"\n'
        'tubing = { od = 1.5, wall = ".065", material = "304" }\n'
        'die = { clr = "4 1/2", clamp = 2.5, follower = 3.5, springback = 0.0 }\n'
        'points = [[0, 0, 0], [20, 0, 0], [20, "2 ft 1/2 in", 0]]\n'
    )
    plan = soapstone("plan", job, "--json").json["tubes"][0]
    assert plan["points"][2] == pytest.approx([508, 622.3, 0])
    straights = 20 + 24.5 - 2 * 4.5
    assert plan["stock"] == pytest.approx((straights + 4.5 * 3.141592653589793 / 2) * 25.4)
    text = soapstone("plan", job).out
    assert '42 9/16"' in text
    assert " mm" not in text


def test_a_tube_that_cannot_be_made_exits_1_and_says_why(arch):
    too_near(arch)
    done = soapstone("plan", arch, "--json")
    assert done.code == 1
    broken = done.json["tubes"][0]
    assert broken["bends"] == []
    assert "missing" in broken["problems"][0]["what"]
    assert done.json["tubes"][1]["problems"][0]["what"].startswith(
        "starboard leg, which it mirrors"
    )
    assert done.json["tubes"][2]["bends"], "the other tubes have their plan"
    assert soapstone("sheet", arch, "-o", arch.with_suffix(".pdf")).code == 1


def test_the_sheet_goes_where_it_is_told_on_the_paper_it_is_told(arch):
    out = arch.parent / "pack.pdf"
    done = soapstone("sheet", arch, "-o", out, "--paper", "Letter", "--json")
    assert done.code == 0
    assert done.json["file"] == str(out)
    from pypdfium2 import PdfDocument

    with PdfDocument(out) as pdf:
        assert len(pdf) == done.json["pages"]
        assert pdf[0].get_size() == pytest.approx((612, 792), abs=0.5)


def test_a_sheet_that_cannot_be_written_leaves_the_old_one(arch):
    missing = arch.parent / "no such folder" / "pack.pdf"
    refused = soapstone("sheet", arch, "-o", missing)
    assert is_clean(refused)
    assert refused.code == 2
    assert "cannot be written" in refused.err


def test_calibration_gives_what_scripts_rely_on(arch):
    done = soapstone("calibrate", arch.parent / "trials-38.csv", "--at", "30,60,90", "--json").json
    assert {"springback", "dial_zero", "sigma", "at"} <= set(done)
    assert [row["angle"] for row in done["at"]] == [30, 60, 90]
    for row in done["at"]:
        assert row["low"] < row["dial"] < row["high"]


@pytest.mark.parametrize("at", ["", "x", "30,,60", "0", "400", "nan"])
def test_angles_that_are_none_are_refused(arch, at):
    refused = soapstone("calibrate", arch.parent / "trials-38.csv", "--at", at)
    assert refused.code == 2
    assert "--at" in refused.err


def test_calibrating_for_a_die_starts_from_what_the_bench_says(arch):
    one = arch.parent / "one.csv"
    one.write_text("dial,angle\n47,45\n")
    alone = soapstone("calibrate", one, "--at", "90", "--json").json["at"][0]
    with_die = soapstone(
        *("calibrate", one, "--at", "90", "--json", "--bench", arch.parent / "bench.toml"),
        *("--die", "38 on 115", "--tubing", "316 38.1x1.65"),
    ).json["at"][0]
    assert with_die["high"] - with_die["low"] < alone["high"] - alone["low"]


def test_the_bench_is_shown_with_what_is_known_of_its_dials(arch):
    text = soapstone("bench", arch.parent / "bench.toml").out
    assert "38 on 115" in text
    assert "1.65 mm" in text
    shown = soapstone("bench", arch.parent / "bench.toml", "--json").json
    assert shown["calibrations"][0]["trials"] == 7


def test_new_files_work_at_once_and_are_never_overwritten(tmp_path):
    for units in ("mm", "in"):
        job, bench = tmp_path / f"job-{units}.toml", tmp_path / f"bench-{units}.toml"
        assert soapstone("new", job, "--units", units).code == 0
        assert soapstone("new", bench, "--bench", "--units", units).code == 0
        assert soapstone("plan", job).code == 0
        assert soapstone("bench", bench).code == 0
        before = job.read_bytes()
        assert soapstone("new", job).code == 2
        assert job.read_bytes() == before


@pytest.mark.parametrize("form", ["corners", "legs"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_tubes_go_to_csv_and_back_unchanged(arch, form, units):
    table, back = arch.parent / "tubes.csv", arch.parent / "back.toml"
    done = soapstone("convert", arch, table, "--as", form, "--units", units, "--json")
    assert done.code == 0
    assert "keep-outs" in done.json["left_out"]
    assert soapstone("convert", table, back).code == 0
    bench = 'bench = "bench.toml"\n'
    back.write_text(back.read_text().replace("format = 1\n", "format = 1\n" + bench))
    first = soapstone("plan", arch, "--json").json["tubes"]
    second = soapstone("plan", back, "--json").json["tubes"]
    for tube, twin in zip(first, second, strict=True):
        assert twin["stock"] == pytest.approx(tube["stock"], rel=1e-9)
        for point, other in zip(tube["points"], twin["points"], strict=True):
            assert other == pytest.approx(point, abs=1e-7)


def test_a_trial_piece_is_told_in_steps_and_taught_by(arch):
    bench = arch.parent / "bench.toml"
    steps = soapstone("trial", "--bench", bench, "--die", "38 on 115")
    assert steps.code == 0
    assert "Cut a straight piece" in steps.out
    taught = soapstone(
        *("trial", "--bench", bench, "--die", "38 on 115", "--stock", "720", "--mark", "100"),
        *("--angle", "176", "--lead-overall", "246", "--tail-overall", "386", "--width", "276"),
    )
    assert taught.code == 0
    assert "mark_offset" in taught.out
    missing = soapstone("trial", "--bench", bench, "--die", "38 on 115", "--stock", "720")
    assert missing.code == 2
    assert "--mark and --angle" in missing.err


@pytest.mark.parametrize("which", ["job", "bench"])
def test_the_schema_is_json(which):
    done = soapstone("schema", which)
    assert json.loads(done.out)["type"] == "object"


@pytest.mark.parametrize(
    "arguments",
    [
        ("plam",),
        ("plan",),
        ("plan", "no such file.toml"),
        ("plan", "."),
        ("plan", "a.toml", "b.toml"),
        ("plan", "--colour"),
        ("sheet", "no.toml", "--paper", "A9"),
        ("convert", "a.step", "b.toml"),
        ("convert", "a.toml", "b.pdf"),
        ("calibrate", "no.csv"),
        ("bench", "no.toml"),
        ("trial", "--bench", "no.toml"),
        ("new", "x.pdf"),
        ("schema", "shop"),
    ],
)
def test_wrong_words_get_one_line(arguments):
    refused = soapstone(*arguments)
    assert refused.code == 2
    assert is_clean(refused)


@pytest.mark.parametrize("command", ["", "plan", "sheet", "demo", "calibrate", "convert", "trial"])
def test_help_tells_what_a_command_does(command):
    done = soapstone(*filter(None, (command,)), "--help")
    assert done.code == 0
    assert "Usage: soapstone" in done.out


def test_findings_of_a_job_in_inches_are_in_inches(tmp_path):
    job = tmp_path / "tight.toml"
    job.write_text(
        'format = 1\nname = "tight"\nunits = "in"\n[[tube]]\nname = "rail"\n'
        'tubing = { od = 1.5, wall = ".035", material = "304", sticks = [36] }\n'
        "die = { clr = 2, clamp = 2.5, follower = 3.5, springback = 0.0, od = 1.25 }\n"
        "points = [[0, 0, 0], [20, 0, 0], [20, 6, 0], [40, 6, 0]]\n"
    )
    done = soapstone("plan", job, "--json")
    assert done.code == 1
    words = [f"{found['what']} {found['mend']}" for found in done.json["tubes"][0]["problems"]]
    assert not any(" mm" in text for text in words)
    assert any('1.250" tube, and this one is 1.500"' in text for text in words)
    assert any('1/2" missing' in text for text in words), "the clamp's 2 1/2 less the 2 there"
    assert any('the longest stick is 36"' in text for text in words)


def test_a_reader_that_has_enough_is_no_fault(arch):
    """`soapstone plan JOB | head -1` ends quietly, and not as a plan that fails its check."""
    command = [sys.executable, "-c", "from soapstone.cli import main; main()", "plan", str(arch)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as child:
        child.stdout.close()
        assert child.wait() == 0
        assert child.stderr.read() == b""


def test_the_sheet_says_in_json_what_cannot_be_made(arch):
    too_near(arch)
    done = soapstone("sheet", arch, "-o", arch.with_suffix(".pdf"), "--json")
    assert done.code == 1
    assert "missing" in done.json["tubes"][0]["problems"][0]["what"]


def test_text_json_and_sheet_agree_on_the_marks(tmp_path):
    """A job in inches on a bench in mm is marked out in inches, everywhere alike."""
    bench = tmp_path / "bench.toml"
    soapstone("new", bench, "--bench")
    job = tmp_path / "job.toml"
    job.write_text(
        'units = "in"\nbench = "bench.toml"\n[[tube]]\nname = "a"\ntubing = "304 38.1x1.65"\n'
        'die = "38.1 on 115"\npoints = [[0, 0, 0], [20.03, 0, 0], [20.03, 30, 0]]\n'
    )
    bend = soapstone("plan", job, "--json").json["tubes"][0]["bends"][0]
    sixteenths = bend["stock_mark"] / 25.4 * 16
    assert sixteenths == pytest.approx(round(sixteenths), abs=1e-6)
    whole, rest = divmod(round(sixteenths), 16)
    written = f"{whole} {Fraction(rest, 16)}" if rest else f"{whole}"
    assert written in soapstone("plan", job).out


def test_an_inline_die_does_not_take_over_trial_bends_by_its_name(arch):
    text = arch.read_text().replace(
        'die = "38 on 115"', 'die = { name = "38 on 115", clr = 200, od = 38.1 }', 1
    )
    arch.write_text(text)
    tubes = {tube["name"]: tube for tube in soapstone("plan", arch, "--json").json["tubes"]}
    own, benchs = tubes["starboard leg"]["bends"][0], tubes["cross tube"]["bends"][0]
    assert own["dial_high"] - own["dial_low"] > 2 * (benchs["dial_high"] - benchs["dial_low"])


@pytest.mark.parametrize(
    "arguments",
    [
        ("convert", "JOB", "JOB"),
        ("convert", "JOB", "x.toml", "--as", "legs"),
        ("calibrate", "CSV", "--bench", "BENCH"),
        ("trial", "--bench", "BENCH", "--die", "38 on 115", "--tubing", "316 25.4x1.65"),
        ("sheet", "JOB", "-o", "."),
    ],
)
def test_what_cannot_be_meant_is_refused(arch, arguments):
    places = {
        "JOB": arch,
        "BENCH": arch.parent / "bench.toml",
        "CSV": arch.parent / "trials-38.csv",
    }
    before = arch.read_bytes()
    refused = soapstone(*(places.get(word, word) for word in arguments))
    assert is_clean(refused)
    assert refused.code == 2
    assert arch.read_bytes() == before


def test_a_straight_tube_without_a_die_goes_through_csv(tmp_path):
    job, table, back = tmp_path / "a.toml", tmp_path / "a.csv", tmp_path / "b.toml"
    job.write_text(
        'units = "mm"\n[[tube]]\nname = "rail"\ntubing = "E355 44.5x2.5"\n'
        "points = [[0, 0, 0], [500, 0, 0]]\n"
    )
    assert soapstone("convert", job, table).code == 0
    assert soapstone("convert", table, back).code == 0
    assert soapstone("plan", back).code == 0


def test_wide_bends_are_written_by_legs_and_not_as_corners(tmp_path):
    job, table = tmp_path / "a.toml", tmp_path / "a.csv"
    job.write_text(
        'units = "mm"\n[[tube]]\nname = "hook"\ntubing = "304 38.1x1.65"\ndie = "38.1 on 115"\n'
        "bends = { legs = [200, 200], angles = [200] }\n"
    )
    assert soapstone("convert", job, table).code == 0
    assert "angle" in table.read_text().splitlines()[0]
    assert soapstone("convert", job, table, "--as", "corners").code == 2
