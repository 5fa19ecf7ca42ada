"""Rescue as a user asks for it."""

import shutil
from importlib.resources import files

import pytest

from tests.cli.running import is_clean, soapstone


@pytest.fixture
def arch(tmp_path):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return tmp_path / "stern-arch.toml"


LEG = ("--tube", "starboard leg")


def test_the_rest_is_told_and_printed(arch):
    pdf = arch.with_name("rest.pdf")
    done = soapstone("rescue", arch, *LEG, "--made", "4: 46.6", "--made", "3: 43.5", "--sheet", pdf)
    assert done.code == 0
    assert "it lands" in done.out
    assert pdf.read_bytes().startswith(b"%PDF")
    whole = soapstone("sheet", arch, "--json").json["pages"]
    found = soapstone("rescue", arch, *LEG, "--made", "4: 46.6", "--sheet", pdf, "--json").json
    assert found["lands"]
    assert found["made"] == [4]
    assert found["file"] == str(pdf)
    assert [bend["n"] for bend in found["plan"]["bends"]] == [4, 3, 2, 1]
    assert whole > 0


def test_a_tube_that_cannot_land_leaves_with_one_and_says_the_miss(arch):
    done = soapstone("rescue", arch, *LEG, "--made", "1: 60", "--json")
    assert done.code == 1
    assert not done.json["lands"]
    assert max(end["off"] / 1.0 for end in done.json["ends"]) > 0
    wide = soapstone(
        "rescue", arch, *LEG, "--made", "1: 60", "--within", "40 in", "--angle", "90", "--json"
    )
    assert wide.json["lands"]


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        LEG,
        ("--made", "1: 26"),
        (*LEG, "--made", "nonsense"),
        (*LEG, "--made", "7: 20"),
        (*LEG, "--made", "1: 20", "--made", "1: 21"),
        (*LEG, "--made", "1: 20", "--within", "-1"),
        (*LEG, "--made", "1: 20", "--angle", "0"),
        (*LEG, "--made", "1: 20", "--stick", "3 mm"),
        ("--tube", "starbord leg", "--made", "1: 20"),
    ],
)
def test_odd_questions_are_refused_in_a_line(arch, arguments):
    refused = soapstone("rescue", arch, *arguments)
    assert refused.code == 2
    assert is_clean(refused)
