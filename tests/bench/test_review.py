"""The look over a bench: sound ones pass, each doubtful figure is named."""

import pytest

from soapstone.bench.files import bench_from_text, starter_bench
from soapstone.bench.review import review_bench
from soapstone.findings import Finding
from soapstone.quantities import format_length

SOUND = """
units = "mm"
[bender]
die_height = 950
stroke = 45
ram = { force = "70 kN", arm = 150 }
[[die]]
name = "d"
od = 38.1
clr = 115
clamp = 60
follower = 90
[[tubing]]
name = "t"
od = 38.1
wall = 1.65
material = "304"
sticks = [6000]
price = 10
[[trial]]
die = "d"
tubing = "t"
lot = "1"
bends = [[31, 30]]
"""


def review(old: str = "", new: str = "") -> list[Finding]:
    """Findings of the sound bench with one thing changed."""
    assert old in SOUND
    return review_bench(bench_from_text(SOUND.replace(old, new, 1)))


def test_a_sound_bench_has_no_findings() -> None:
    assert review() == []


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_starter_benches_are_sound(units: str) -> None:
    assert review_bench(starter_bench(units)) == []


@pytest.mark.parametrize(
    ("old", "new", "severity", "where", "what"),
    [
        ("stroke = 45", "stroke = 2", "warn", "bender.stroke", "every 2°"),
        ("stroke = 45", "stroke = 45\nmax_angle = 30", "warn", "bender.stroke", "above max_angle"),
        ("die_height = 950", "", "note", "bender.die_height", "off the floor"),
        ("die_height = 950", "die_height = 95", "warn", "bender.die_height", "95.0 mm"),
        ("[bender]", "dial_step = 2\n[bender]", "warn", "dial_step", "wider than tolerance"),
        ("clr = 115", "clr = 76", "warn", 'die "d".clr', "under 2 x OD 38.1 mm"),
        ("clamp = 60", "", "warn", 'die "d".clamp', "clamp is 0"),
        ("follower = 90", "", "warn", 'die "d".follower', "follower is 0"),
        ("clr = 115", "clr = 115\nspringback = 0.25", "warn", 'die "d".springback', "0.25"),
        ("clr = 115", "clr = 115\nspringback = 0", "warn", 'die "d".springback', "is 0"),
        ("clr = 115", "clr = 115\nmark_offset = 120", "warn", 'die "d".mark_offset', "120.0 mm"),
        ("clr = 115", "clr = 115\nstretch = 0.2", "warn", 'die "d".stretch', "0.2"),
        ("clr = 115", "clr = 115\ndial_zero = 12", "warn", 'die "d".dial_zero', "12°"),
        ("sticks = [6000]", "", "note", 'tubing "t".sticks', "lengths it is bought"),
        ("price = 10", "", "note", 'tubing "t".price', "no price"),
        ('die = "d"', 'die = "e"', "warn", "trial[1].die", 'no die "e"'),
        ('tubing = "t"', 'tubing = "tt"', "warn", "trial[1].tubing", 'did you mean "t"'),
        ('lot = "1"', "", "note", "trial[1].lot", "no lot"),
    ],
)
def test_each_doubtful_figure_is_named(
    old: str, new: str, severity: str, where: str, what: str
) -> None:
    findings = review(old, new)
    assert [(finding.severity, finding.where) for finding in findings] == [(severity, where)]
    assert what in findings[0].what
    assert findings[0].mend


def test_a_die_and_a_tubing_that_do_not_meet_are_named_from_both_sides() -> None:
    wheres = [finding.where for finding in review("od = 38.1", "od = 42.4")]
    assert wheres == ['die "d"', 'tubing "t"', "trial[1]"]


def test_a_ram_too_weak_for_a_tubing_is_named_with_both_moments() -> None:
    # 304 yields at 207 MPa; plastic modulus (38.1^3 - 34.8^3) / 6 = 2193.7 mm3: 454 N m
    (finding,) = review('"70 kN"', '"3 kN"')
    assert finding.where == 'tubing "t"'
    assert "454 N m" in finding.what
    assert "450 N m" in finding.what
    assert review('"70 kN"', '"3.1 kN"') == []


def test_an_empty_bench_is_noted_not_refused() -> None:
    notes = review_bench(bench_from_text('units = "mm"\nbender = { die_height = 900 }'))
    assert [note.where for note in notes] == ["die", "tubing"]


def test_lengths_are_written_the_readers_way() -> None:
    bench = bench_from_text(SOUND.replace("clr = 115", "clr = 76"))
    (finding,) = review_bench(bench, lambda mm: format_length(mm, "in"))
    assert 'CLR 3"' in finding.what
