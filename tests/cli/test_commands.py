"""Every command as a user runs it: what it prints, what it writes, how it refuses."""

import json
import shutil
from importlib.resources import files

import pytest

from tests.cli.running import is_clean, soapstone


@pytest.fixture
def arch(tmp_path):
    """The demo job with its bench, in a folder of its own."""
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return tmp_path / "stern-arch.toml"


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
    text = arch.read_text()
    arch.write_text(text.replace("[350, -780, 420]", "[350, -780, 9]"))
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
