"""The error budget as a user asks for it."""

import shutil
from importlib.resources import files

import pytest

from tests.cli.running import is_clean, soapstone


@pytest.fixture
def arch(tmp_path):
    for name in ("bench.toml", "trials-38.csv", "stern-arch.toml"):
        shutil.copy(files("soapstone.demo") / name, tmp_path / name)
    return tmp_path / "stern-arch.toml"


def test_every_bent_tube_of_the_demo_has_a_budget(arch):
    done = soapstone("budget", arch, "--samples", "5000", "--json")
    tubes = {tube["name"]: tube for tube in done.json["tubes"]}
    assert set(tubes) == {
        "starboard leg",
        "port leg",
        "cross tube",
        "starboard brace",
        "port brace",
    }
    hands = [tubes["starboard leg"], tubes["port leg"]]
    assert hands[0]["radius"] == pytest.approx(hands[1]["radius"], rel=0.05)
    assert done.code == (0 if all(tube["chance"] >= 0.95 for tube in tubes.values()) else 1)


def test_a_wide_tolerance_passes_and_a_narrow_one_does_not(arch):
    wide = soapstone("budget", arch, "--within", "12 in", "--angle", "20", "--samples", "2000")
    assert wide.code == 0
    narrow = soapstone("budget", arch, "--within", "0.1 mm", "--samples", "2000")
    assert narrow.code == 1
    assert "pass" in narrow.out


def test_a_seed_makes_the_same_tubes_again_and_another_seed_others(arch):
    def budget(seed):
        return soapstone("budget", arch, "--samples", "1000", "--seed", seed, "--json").json

    assert budget("7") == budget("7")
    first, other = (budget(seed)["tubes"][0]["radius"] for seed in ("7", "8"))
    assert first != other
    assert other == pytest.approx(first, rel=0.2)


def test_a_truer_shop_is_told_so_by_its_bench(arch):
    bench = arch.parent / "bench.toml"
    before = soapstone("budget", arch, "--samples", "5000", "--json").json["tubes"][0]
    bench.write_text(bench.read_text() + '\n[accuracy]\nlevel = 0.1\nmark = "1/64 in"\n')
    after = soapstone("budget", arch, "--samples", "5000", "--json").json["tubes"][0]
    assert after["radius"] < before["radius"]


@pytest.mark.parametrize(
    "arguments",
    [
        ("--within", "near"),
        ("--within", "0"),
        ("--angle", "0"),
        ("--angle", "nan"),
        ("--samples", "3"),
        ("--seed", "-1"),
        ("--seed", "x"),
        ("--iso-13920", "E"),
    ],
)
def test_odd_figures_are_refused_in_a_line(arch, arguments):
    refused = soapstone("budget", arch, *arguments)
    assert refused.code == 2
    assert is_clean(refused)


@pytest.mark.parametrize("line", ["mark = -1", "level = 30", "stretch = nan", "tape = 1"])
def test_odd_accuracy_is_refused_by_its_key(arch, line):
    bench = arch.parent / "bench.toml"
    bench.write_text(bench.read_text() + f"\n[accuracy]\n{line}\n")
    refused = soapstone("budget", arch)
    assert refused.code == 2
    assert is_clean(refused)
    assert "accuracy" in refused.err


def test_a_job_of_straight_tubes_has_nothing_to_reckon(tmp_path):
    job = tmp_path / "straight.toml"
    job.write_text(
        'units = "in"\n[[tube]]\nname = "rail"\ntubing = "304 1 x .065"\n'
        "points = [[0, 0, 0], [40, 0, 0]]\n"
    )
    done = soapstone("budget", job)
    assert done.code == 0
    assert "no tube" in done.out


def test_a_tube_without_a_plan_says_why(tmp_path):
    job = tmp_path / "back.toml"
    job.write_text(
        'units = "mm"\n[[tube]]\nname = "t"\ntubing = "304 25.4x1.65"\ndie = "25.4 on 75"\n'
        "points = [[0, 0, 0], [0, 0, 500], [0, 0, 100]]\n"
        '[[cope]]\ntube = "t"\nend = "A"\nonto = { at = [0, 0, 0], normal = [0, 0, 1] }\n'
    )
    done = soapstone("budget", job)
    assert done.code == 1
    assert "doubles back" in done.out
    refused = soapstone("cope", job)
    assert refused.code == 2
    assert "doubles back" in refused.err


def test_the_job_says_what_may_pass_and_a_tube_says_it_for_itself(arch):
    text = arch.read_text()
    begins = text.index("units")
    arch.write_text(text[:begins] + 'tolerance = "30 cm"\n' + text[begins:])
    wide = soapstone("budget", arch, "--samples", "2000", "--angle", "20", "--json").json["tubes"]
    assert {tube["within"]["length"] for tube in wide} == {300.0}
    assert "as the job says" in wide[0]["within"]["source"]
    arch.write_text(text.replace('name = "cross tube"', 'name = "cross tube"\niso_13920 = "D"', 1))
    classed = soapstone("budget", arch, "--samples", "2000", "--json").json["tubes"]
    assert [t["name"] for t in classed if t["within"]["source"].endswith("D")] == ["cross tube"]


@pytest.mark.parametrize("line", ["tolerance = 0", 'tolerance = "B"', 'iso_13920 = "E"'])
def test_an_odd_tolerance_is_refused_by_its_key(arch, line):
    text = arch.read_text()
    begins = text.index("units")
    arch.write_text(text[:begins] + line + "\n" + text[begins:])
    refused = soapstone("budget", arch)
    assert refused.code == 2
    assert is_clean(refused)
    assert line.split()[0] in refused.err
