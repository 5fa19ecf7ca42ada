"""Jobs written as TOML: the same job when read again; remarks of a file stay."""

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soapstone.exchange.job_toml import job_toml, with_points
from soapstone.geometry.vectors import Vec3
from soapstone.job.files import job_from_text, read_job, starter_job_text
from soapstone.job.model import Job
from soapstone.job.tube import Bends, Tube
from tests.job.test_files import FULL

REMARKED = """\
# what it is
units = "in"      # inches

[points]
foot = [0, 0, 0]

# the first
[[tube]]
name = "a"   # its name
tubing = "t"
route = { start = { at = "foot" }, end = { at = [1, 2, 3] } }   # to be found
gap = 1

# the second
[[tube]]
name = "b"
tubing = "t"
[tube.route]      # spread out
start = { at = "foot" }
end = { at = [1, 2, 3] }

# the third
[[tube]]
name = "c"
tubing = "t"
route.start = { at = "foot" }
route.end = { at = [1, 2, 3] }

# what it carries
[[load]]
case = "c"
at = "foot"
onto = "a"
mass = "1 kg"
"""


def same(a: Any, b: Any, rel: float = 0.0) -> bool:
    """Whether two trees of tables, lists and numbers are the same, numbers to a relative error."""
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(same(a[key], b[key], rel) for key in a)
    if isinstance(a, (list, tuple)):
        return len(a) == len(b) and all(same(x, y, rel) for x, y in zip(a, b, strict=True))
    if isinstance(a, float) and rel:
        return bool(a == pytest.approx(b, rel=rel, abs=1e-300))
    return bool(a == b)


@pytest.mark.parametrize("text", [FULL, starter_job_text("mm"), starter_job_text("in")])
def test_a_job_written_and_read_is_the_same_job(text: str) -> None:
    job = job_from_text(text)
    written = job_toml(job)
    assert same(job_from_text(written).model_dump(), job.model_dump(), rel=1e-15)
    assert job_toml(job_from_text(written)) == written


def test_a_job_in_mm_is_the_same_to_the_last_digit() -> None:
    job = job_from_text(FULL)
    assert job_from_text(job_toml(job)).model_dump() == job.model_dump()


def test_every_length_keeps_its_size_when_a_job_changes_its_units() -> None:
    """Every length of every table: one written without regard to units would be 25.4 times off."""
    job = job_from_text(FULL)
    inches = job.model_copy(update={"units": "in"})
    again = job_from_text(job_toml(inches))
    assert again.units == "in"
    assert same(again.model_dump(exclude={"units"}), job.model_dump(exclude={"units"}), rel=1e-15)


def test_names_of_points_stay_and_plain_numbers_stay_plain() -> None:
    written = job_toml(job_from_text(FULL))
    assert 'points = ["foot", [0, -600, 400], [250, -300, 900], "a b"]' in written
    assert 'onto = ["port leg", "foot", [1, 2, 3]]' in written
    assert 'fix = "all"' in written
    assert 'force = ["0 N", "1000 N", ' in written
    assert "turn = [0, 0, 15]" in written


numbers = st.floats(-9e5, 9e5, allow_subnormal=False)
places = st.tuples(numbers, numbers, numbers)


@given(st.lists(places, min_size=2, max_size=6), st.sampled_from(["mm", "in"]))
def test_any_corners_are_read_back(points: list[Vec3], units: Any) -> None:
    job = Job(units=units, tubes=(Tube(name="a", tubing="t", points=tuple(points)),))
    again = job_from_text(job_toml(job)).tubes[0].points
    assert same(again, tuple(points), rel=1e-15 if units == "in" else 0.0)


@given(st.text(min_size=1, max_size=40), st.text(max_size=40))
def test_any_name_and_remark_is_read_back(name: str, note: str) -> None:
    if not (name.strip() and name.isprintable()):
        return
    tube = Tube(name=name, tubing=name, note=note, bends=Bends(legs=(1.0,)))
    job = Job(units="mm", tubes=(tube,), points={name: (0.0, 0.0, 0.0)})
    again = job_from_text(job_toml(job))
    assert again.tubes[0].name == name.strip()
    assert again.tubes[0].note == note
    assert list(again.points) == [name]


def test_other_files_are_named_from_where_the_job_goes(tmp_path: Path) -> None:
    (tmp_path / "boat").mkdir()
    (tmp_path / "out").mkdir()
    (tmp_path / "boat" / "scan.stl").write_text("solid\n")
    path = tmp_path / "boat" / "job.toml"
    path.write_text(
        'units = "mm"\nbench = "bench.toml"\n'
        '[[keepout]]\nname = "k"\nmesh = { file = "scan.stl", units = "m" }\n'
    )
    job = read_job(path)
    assert 'file = "scan.stl"' in job_toml(job)
    assert 'bench = "bench.toml"' in job_toml(job)
    elsewhere = job_toml(job, tmp_path / "out")
    assert 'file = "../boat/scan.stl"' in elsewhere
    assert 'bench = "../boat/bench.toml"' in elsewhere
    moved = tmp_path / "out" / "job.toml"
    moved.write_text(elsewhere)
    mesh = read_job(moved).keepouts[0].mesh
    assert mesh
    assert mesh.file.samefile(tmp_path / "boat" / "scan.stl")


def test_corners_take_the_place_of_a_route_and_all_else_stays() -> None:
    corners = [(0.0, 0.0, 0.0), (25.4, 12.7, 0.0), (25.4, 12.7, 100.0)]
    changed = with_points(REMARKED, {"a": corners})
    route = 'route = { start = { at = "foot" }, end = { at = [1, 2, 3] } }   # to be found'
    assert changed == REMARKED.replace(
        route, 'points = ["foot", [1, 0.5, 0], [1, 0.5, 3.937007874015748]]   # to be found', 1
    )


@pytest.mark.parametrize("name", ["b", "c"])
def test_a_route_over_several_lines_is_replaced_whole(name: str) -> None:
    corners = [(0.0, 0.0, 0.0), (25.4, 0.0, 0.0)]
    changed = with_points(REMARKED, {name: corners})
    job = job_from_text(changed)
    assert job.tube(name).points == tuple(corners)
    for other in {"a", "b", "c"} - {name}:
        assert job.tube(other).route
    remarks = [line for line in REMARKED.splitlines() if line.startswith("# ")]
    assert [line for line in changed.splitlines() if line.startswith("# ")] == remarks
    tables = [line for line in changed.splitlines() if line.startswith(("[[", "# "))]
    assert tables == [line for line in REMARKED.splitlines() if line.startswith(("[[", "# "))]


def test_tubes_in_a_list_of_inline_tables_are_changed_too() -> None:
    text = (
        'units = "mm"\ntube = [\n'
        '  { name = "a", tubing = "t", "route" = { start = { at = [0, 0, 0] }, '
        "end = { at = [1, 1, 1] } } },  # one\n]\n"
    )
    changed = with_points(text, {"a": [(0.0, 0.0, 0.0), (5.0, 0.0, 0.0)]})
    assert job_from_text(changed).tubes[0].points == ((0, 0, 0), (5, 0, 0))
    assert "# one" in changed


def test_many_corners_go_on_lines_of_their_own() -> None:
    corners = [(float(i), 123.456, 789.012) for i in range(8)]
    changed = with_points(REMARKED, {"a": corners, "b": corners, "c": corners})
    assert changed.count("points = [\n  [0, 4.8604") == 3
    job = job_from_text(changed)
    assert all(same(tube.points, tuple(corners), rel=1e-15) for tube in job.tubes)


def test_a_changed_file_that_moves_finds_its_bench_and_meshes_again(tmp_path: Path) -> None:
    text = (
        'units = "mm"\nbench = "bench.toml"  # ours\n'
        '[[keepout]]\nname = "k"\nmesh = { file = "scans/k.stl" }  # taken in May\n'
        '[[tube]]\nname = "a"\ntubing = "t"\npoints = [[0, 0, 0], [1, 0, 0]]\n'
    )
    changed = with_points(
        text, {"a": [(0.0, 0.0, 0.0), (5.0, 0.0, 0.0)]}, (tmp_path / "boat", tmp_path / "out")
    )
    assert 'bench = "../boat/bench.toml"  # ours' in changed
    assert 'mesh = { file = "../boat/scans/k.stl" }  # taken in May' in changed
    assert "points = [[0, 0, 0], [5, 0, 0]]" in changed


def test_what_is_not_there_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match='no tube "z"'):
        with_points(REMARKED, {"z": [(0.0, 0.0, 0.0)]})
    with pytest.raises(ValueError, match="not TOML"):
        with_points("x = ", {})
