"""What is said about job files that are wrong."""

from pathlib import Path

import pytest

from soapstone.errors import InputError
from soapstone.job.files import job_from_text
from tests.job.test_files import HEAD, STRAIGHT, TUBE


def said(text: str) -> str:
    """What is said about a wrong job file."""
    with pytest.raises(InputError) as refused:
        job_from_text(text, Path("job.toml"))
    line = str(refused.value)
    assert line.startswith("job.toml: ")
    assert line.isprintable()
    return line.removeprefix("job.toml: ")


FAULTS = [
    ("tubes = []", 'tubes: unknown key; did you mean "tube"?'),
    ("points = 5", "points: expected a table { ... }, found 5"),
    ("points = { a = [1, 2] }", "points.a: expected a point [x, y, z], found a list of 2"),
    ("points = { 'a b' = [1, 2, 'x'] }", 'points."a b".z: expected a length'),
    (TUBE, 'tube "a": expected exactly one of points, bends, mirror, route; found none'),
    (STRAIGHT + "bends = { legs = [1] }", "found points and bends"),
    (TUBE + "ponits = []", 'tube "a".ponits: unknown key; did you mean "points"?'),
    (TUBE + "points = [[0, 0, 0]]", 'tube "a".points: expected at least 2 entries'),
    (TUBE + "points = ['foo', [0, 0, 0]]", 'tube "a".points[1]: no point named "foo"'),
    ("points.foot = [0, 0, 0]\n" + TUBE + "points = ['foo', [0, 0, 0]]", 'did you mean "foot"?'),
    (TUBE + "points = [[0, 0, nan], [0, 0, 1]]", 'tube "a".points[1].z: expected a length'),
    (TUBE + "points = [[0, 0, 1e7], [0, 0, 1]]", "points[1].z: expected a length under 1 km"),
    ("[[tube]]\nname = 'a'\npoints = [[0, 0, 0], [1, 1, 1]]", 'tube "a".tubing: missing; expected'),
    (STRAIGHT + STRAIGHT, 'tube "a": expected another name, this one stands twice'),
    (STRAIGHT + "order = []", 'tube "a".order: expected the bends in the order made, each once'),
    (STRAIGHT + "order = 2", "each once, such as [2, 1, 3], found 2"),
    (STRAIGHT + "order = [1, 0]", "each once, such as [2, 1, 3], found 0"),
    (STRAIGHT + "order = [1.5, 1]", "each once, such as [2, 1, 3], found 1.5"),
    (STRAIGHT + "order = [nan]", 'tube "a".order: expected the bends in the order made'),
    (STRAIGHT + "order = [2, 1, 2]", "bend 2 stands twice"),
    (STRAIGHT + "lead = 'C'", 'tube "a".lead: expected "A", "B" or a list of them, one for each'),
    (STRAIGHT + "lead = ['A', 1]", "one for each bend in the order made, found 1"),
    (STRAIGHT + "lead = []", "one for each bend in the order made, found a"),
    (STRAIGHT + "gap = -1", 'tube "a".gap: expected a length of 0 or more, found -1'),
    (TUBE + "bends = { legs = [1, 1], angles = [] }", "expected one more leg than angles; found 2"),
    (
        TUBE + "bends = { legs = [1, -1], angles = [0] }",
        'tube "a".bends.legs[2]: expected a length',
    ),
    (TUBE + "bends = { legs = [1, 1], angles = [0] }", "bends.angles[1]: expected degrees above 0"),
    (TUBE + "bends = { legs = [1, 1], angles = [9], rotations = [5] }", "first rotation to be 0"),
    (TUBE + "bends = { legs = [1, 1], angles = [9], rotations = [0, 0] }", "as many rotations as"),
    (TUBE + "bends = { legs = [1], along = [0, 0, 0] }", "found one of no length"),
    (TUBE + "bends = { legs = [1], along = [0, 0, 1], up = [0, 0, -2] }", "they are parallel"),
    (TUBE + "mirror = { of = 'b', across = 'xz' }", 'tube "a".mirror.of: no tube named "b"'),
    (TUBE + "mirror = { of = 'a', across = 'xz' }", "expected a tube that is not its own mirror"),
    (STRAIGHT + "[[tube]]\nname='b'\nmirror={of='a',across='xx'}", 'expected "xy", "yz" or "xz"'),
    (
        TUBE + "route = { start = { at = [0, 0, 0] } }",
        'tube "a".route.end: missing; expected the B',
    ),
    (
        TUBE + "route = { start = { at = [0, 0, 0], within = 5 }, end = { at = [1, 1, 1] } }",
        "start.within: expected along",
    ),
    (
        TUBE + "route = { start = { at = [0, 0, 0] }, end = { at = [1, 1, 1] }, max_bends = 2.5 }",
        "max_bends: expected a number of bends",
    ),
    (
        TUBE
        + "route = { start = { at = [0, 0, 0] }, end = { at = [1, 1, 1] }, angles = [90, 10] }",
        "angles: expected two bend angles",
    ),
    (STRAIGHT + "die = { clr = 10, od = 30 }", 'tube "a".die.clr: expected a centreline radius'),
    (
        "[[tube]]\nname = 'a'\ntubing = { od = 30, wall = 2 }\npoints = [[0,0,0],[1,1,1]]",
        'tube "a".tubing.material: missing',
    ),
    (
        "[[keepout]]\nname = 'k'",
        'keepout "k": expected exactly one of box, cylinder, ball, halfspace, mesh',
    ),
    (
        "[[keepout]]\nname = 'k'\nbox = { at = [0, 0, 0], size = [1, 0, 1] }",
        "size: expected three edge lengths above 0",
    ),
    (
        "[[keepout]]\nname = 'k'\nball = { at = [0, 0, 0], diameter = 0 }",
        'keepout "k".ball.diameter: expected a length above 0',
    ),
    (
        "[[keepout]]\nname = 'k'\ncylinder = { from = [0, 0, 0], to = [0, 0, 0], diameter = 1 }",
        "to be different points",
    ),
    (
        "[[keepout]]\nname = 'k'\nmesh = { file = 'scan.stl' }",
        "there is no file 'scan.stl' beside this one",
    ),
    (
        (
            "[[keepout]]\nname = 'k'\nball = { at = [0, 0, 0], diameter = 1 }\n"
            "hinge = { through = [0, 0, 0], along = [0, 0, 1], from = 0 }"
        ),
        'keepout "k".hinge.to: missing',
    ),
    ("[[support]]\ntube = 'x'\nat = 'A'\nfix = 'all'", 'support[1].tube: no tube named "x"'),
    (
        STRAIGHT + "[[support]]\ntube = 'a'\nat = 'C'\nfix = 'all'",
        'support[1].at: expected "A", "B" or a point',
    ),
    (
        STRAIGHT + "[[support]]\ntube = 'a'\nat = 'A'\nfix = ['w']",
        'support[1].fix: expected "all", "pinned" or',
    ),
    (
        STRAIGHT + "[[joint]]\ntubes = ['a']\nat = [0, 0, 0]",
        "joint[1].tubes: expected at least 2 entries",
    ),
    (
        STRAIGHT + "[[load]]\ncase = 'c'\nat = [0, 0, 0]\nonto = 'a'",
        "load[1]: expected exactly one of force, mass",
    ),
    (
        STRAIGHT + "[[load]]\ncase = 'c'\nat = [0, 0, 0]\nonto = 'a'\nforce = [0, 0, -900]",
        "found -900 without a unit",
    ),
    (
        STRAIGHT + "[[load]]\ncase = 'c'\nat = [0, 0, 0]\nonto = 'a'\nmass = '0 kg'",
        "load[1].mass: expected a mass above 0",
    ),
    (
        STRAIGHT
        + "[[load]]\ncase = 'c'\nat = [0, 0, 0]\nonto = 'a'\nforce = ['1 N', 0, 0]\ng = [0, 0, 1]",
        "load[1].g: expected mass",
    ),
    (
        STRAIGHT + "[[load]]\ncase = 'c'\nat = [0, 0, 0]\nonto = []\nmass = '1 kg'",
        "onto: expected a list of tubes or points",
    ),
    (
        STRAIGHT + "[[cope]]\ntube = 'a'\nend = 'C'\nonto = 'a'",
        'cope[1].end: expected "A" or "B", found \'C\'',
    ),
]


@pytest.mark.parametrize(("text", "expected"), FAULTS)
def test_a_fault_names_its_key_and_what_is_expected(text: str, expected: str) -> None:
    assert expected in said(HEAD + text)


def test_mirrors_in_a_ring_are_found_through_others() -> None:
    text = HEAD + "".join(
        f"[[tube]]\nname = '{name}'\nmirror = {{ of = '{of}', across = 'xy' }}\n"
        for name, of in (("a", "b"), ("b", "c"), ("c", "a"), ("d", "a"))
    )
    line = said(text)
    assert [f'tube "{name}".mirror.of: expected a tube' in line for name in "abcd"] == [
        True, True, True, False,
    ]  # fmt: skip


def test_faults_of_different_tables_are_named_at_once() -> None:
    line = said(
        HEAD + TUBE + "points = ['x', [0, 0, 0]]\n[[support]]\ntube = 'b'\nat = 'A'\nfix = 'all'\n"
        "[[keepout]]\nname = 'k'\n"
    )
    parts = ('tube "a".points[1]', "support[1].tube", 'keepout "k"')
    assert all(part in line for part in parts)


def test_a_wrong_named_point_is_one_fault_however_often_it_is_used() -> None:
    line = said(HEAD + "points.p = [0, 'x', 0]\n" + TUBE + "points = ['p', 'p', [1, 1, 1]]\n")
    assert line.count(";") == 0
    assert line.startswith("points.p.y: expected a length")
